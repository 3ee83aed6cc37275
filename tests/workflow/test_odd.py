"""The page of records to look at holds every one that is to be looked at first."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from page_frames import make_page

from gapmap.outputs.page.build import page_to_html
from gapmap.outputs.page.read import page_to_columns
from gapmap.workflow.odd import with_findings


def test_a_record_too_coarse_for_a_square_is_listed_with_its_reference() -> None:
    """Nine records, the last for later: the second and third are of a hectad, the third without a place."""
    page = make_page()
    assert page.findings is not None
    table = page.findings.assign(
        square=np.where(np.isin(range(9), (1, 2)), -1, page.findings["square"]), reference="OQ62",
        place=["Brae"] * 2 + [""] * 7, first=[True] * 8 + [False],
    )  # fmt: skip
    _, columns = page_to_columns(page_to_html(with_findings(page, table)))
    place_of = dict(zip(columns["finding.record_id"], columns["finding.place"], strict=True))
    square_of = dict(zip(columns["finding.record_id"], columns["finding.square"], strict=True))
    ids = table["record_id"].tolist()
    assert set(place_of) == set(ids[:8])
    assert [place_of[number] for number in ids[:4]] == ["Brae", "OQ62, Brae", "OQ62", ""]
    assert [square_of[number] > 0 for number in ids[:4]] == [True, False, False, True]
