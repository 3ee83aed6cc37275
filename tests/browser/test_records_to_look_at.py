"""The records to look at, recorder by recorder, each with its small map: what is shown is what is packed in the page.

What is packed is read back with zlib, not with the page's script.
"""

from __future__ import annotations

import base64
import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_frames import make_page
from PIL import Image

from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import centre, pack
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.read import page_to_columns

pytestmark = pytest.mark.browser
Open = Callable[..., Any]
#: Colours of the small maps: a square where the species is known, any other, and the ring.
DARK, PALE, RING = (0x00, 0x22, 0x4E), (0xE4, 0xE1, 0xD8), (0x9C, 0x2F, 0x10)
RECORDERS = ("Tam O", "Isa Kell", "Tam O", "", "Bo Rann & Isa Kell", "Isa Kell", "Tam O", "", "Tam O")


def page_of_records() -> Page:
    """Nine records by three people and by nobody, the oddest last in the table; the fifth lies beyond the area."""
    page = make_page()
    assert page.findings is not None
    squares = page.findings["square"].to_numpy().copy()
    squares[4] = pack(1, 2_000, [500_000], [0])[0]
    return replace(page, findings=page.findings.assign(
        square=squares, recorders=RECORDERS, place=[f"Brae {k}" for k in range(9)],
        where=[f"isle.csv, row {31 + k}" for k in range(9)], date=[f"{k + 1} May 2019" for k in range(9)],
        slip=[f"Was OR4{k} meant?" if k % 2 else "" for k in range(9)], ask_for=["a photograph", "a specimen", ""] * 3,
    ))  # fmt: skip


def packed_records(path: Path) -> list[dict[str, Any]]:
    """The records of a written page in the order they are packed, with what its other columns say of them."""
    _, columns = page_to_columns(path.read_text(encoding="utf-8"))
    names = [name.removeprefix("finding.") for name in columns if name.startswith("finding.")]
    rows = [dict(zip(names, row, strict=True)) for row in zip(*(columns[f"finding.{n}"] for n in names), strict=True)]
    square = np.repeat(np.arange(len(columns["found.count"])), columns["found.count"])
    for row in rows:
        row["found_in"] = {columns["reference"][i] for i in square[columns["found.species"] == row["species"] - 1]}
        row["name"] = columns["species.name"][row["species"] - 1]
        row["reference"] = columns["reference"][row["square"] - 1]
    return rows


def by_recorder(rows: list[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault(row["recorders"], []).append(row)
    return groups


def picture_of(canvas: Any) -> Any:
    """A canvas as rows × columns × red, green, blue."""
    png = canvas.evaluate("(canvas) => canvas.toDataURL('image/png').split(',')[1]")
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(png))).convert("RGB")).astype(int)


def says(text: str, row: dict[str, Any]) -> None:
    """The text of one record holds everything that is packed of it."""
    line = f"{row['date']} · {row['place']} · " + (f"{row['recorders']} · " if row["recorders"] else "") + row["where"]
    assert f"{line} · as odd as one record in {row['one_in']:.0f}" in text
    for part in (row["name"], row["reference"], row["slip"], *row["reasons"].split("\n")):
        assert part in text
    assert (f"Ask for: {row['ask_for']}" in text) == bool(row["ask_for"])


def test_each_recorder_has_a_list_that_opens(open_page: Open) -> None:
    opened = open_page(page_of_records())
    opened.page.get_by_role("button", name="Records to look at").click()
    groups = by_recorder(packed_records(opened.path))
    assert list(groups) == ["Tam O", "", "Isa Kell", "Bo Rann & Isa Kell"], "whoever has the oddest comes first"
    lists = opened.page.locator("#view-facts details")
    assert lists.locator("summary").all_inner_texts() == [
        f"{who or 'Nobody named'}: {len(rows)} to look at" for who, rows in groups.items()
    ]
    assert opened.page.get_by_role("heading", name="9 records to look at").is_visible()
    assert [shown.get_attribute("open") is not None for shown in lists.all()] == [True, False, False, False]
    for shown, rows in zip(lists.all(), groups.values(), strict=True):
        if shown.get_attribute("open") is None:
            assert not shown.locator(".expected").count(), "nothing is written out before it is asked for"
            shown.locator("summary").click()
        shown.locator(".expected").first.wait_for()
        for record, row in zip(shown.locator(".expected").all(), rows, strict=True):
            says(record.inner_text(), row)
    lists.first.locator("summary").click()
    assert not lists.first.locator(".expected").first.is_visible()
    assert opened.errors == []


def test_the_small_map_shows_where_the_species_is_known(open_page: Open) -> None:
    """Every square's middle has the colour that the packed finds give it, and the ring is round the record's own."""
    page = page_of_records()
    opened = open_page(page, address="#view=records")
    row = packed_records(opened.path)[0]
    stamp = opened.page.locator("#view-facts .expected canvas").first
    label = f"Dark: the {len(row['found_in'])} squares where {row['name']}"
    assert str(stamp.get_attribute("aria-label")).startswith(label)
    picture = picture_of(stamp)
    squares = page.effort["square"].unique()
    east, north = centre(squares)
    scale = (picture.shape[1] - 16) / (np.ptp(east) + page.side)
    right = 8 + (east - east.min() + page.side / 2) * scale
    down = 8 + (north.max() + page.side / 2 - north) * scale
    own = int(np.flatnonzero(squares_to_references(squares) == row["reference"])[0])
    seen = {DARK: 0, PALE: 0}
    for name, x, y in zip(squares_to_references(squares), right, down, strict=True):
        if np.hypot(x - right[own], y - down[own]) < 20:
            continue
        colour = DARK if name in row["found_in"] else PALE
        assert tuple(picture[int(y), int(x)]) == colour, name
        seen[colour] += 1
    assert min(seen.values()) > 3, "both colours were there to be told apart"
    ringed = np.argwhere((np.abs(picture - RING) < 12).all(axis=2))
    assert np.abs(ringed.mean(axis=0) + 0.5 - (down[own], right[own])).max() < 2, "a square is 20 pixels wide"


def test_the_same_with_keys_alone(open_page: Open) -> None:
    opened = open_page(page_of_records())
    page, rows = opened.page, packed_records(opened.path)
    press = page.keyboard.press

    def tab_to(selector: str) -> None:
        for _ in range(80):
            press("Tab")
            if page.evaluate("(wanted) => document.activeElement.matches(wanted)", selector):
                return
        raise AssertionError(f"{selector} cannot be reached")

    tab_to('[data-view="records"]')
    press("Enter")
    assert page.get_attribute('[data-view="records"]', "aria-current") == "page"
    tab_to("#view-facts details:nth-of-type(3) summary")
    press("Enter")
    third = list(by_recorder(rows).values())[2]
    tab_to("#view-facts details:nth-of-type(3) button")
    assert page.evaluate("document.activeElement.textContent") == third[0]["reference"]
    press("Enter")
    assert opened.text("#facts-of-square h2") == f"Square {third[0]['reference']}"
    says(opened.text("#facts-of-square"), third[0])


def test_the_map_and_the_table_count_the_same_records(open_page: Open) -> None:
    opened = open_page(page_of_records(), address="#view=records&table=yes")
    rows = packed_records(opened.path)
    counts = [int(text) for text in opened.page.locator("#key .count").all_inner_texts()]
    assert counts[0] == 60 - 8
    assert sum(counts[1:]) == len({row["reference"] for row in rows}), "the one beyond is drawn too"
    with opened.page.expect_download() as caught:
        opened.page.click("#download")
    table = list(csv.DictReader(io.StringIO(Path(caught.value.path()).read_bytes().decode("utf-8-sig"))))
    assert [(line["Square"], line["File and row"], line["Recorders"]) for line in table] == [
        (row["reference"], row["where"], row["recorders"]) for row in rows
    ]
    assert [float(re.sub(r"[^\d.]", "", line["As odd as one in"])) for line in table] == [row["one_in"] for row in rows]


def test_a_record_beyond_the_area_is_ringed_outside_the_squares(open_page: Open) -> None:
    opened = open_page(page_of_records(), address="#view=records")
    beyond = next(row for row in packed_records(opened.path) if row["place"] == "Brae 4")
    opened.page.locator("#view-facts summary", has_text="Bo Rann").click()
    record = opened.page.locator("#view-facts .expected", has_text=beyond["reference"])
    says(record.inner_text(), beyond)
    picture = picture_of(record.locator("canvas"))
    ringed = np.argwhere((np.abs(picture - RING) < 12).all(axis=2)).mean(axis=0)
    squares = np.argwhere((np.abs(picture - PALE) < 3).all(axis=2))
    assert (ringed[1] < squares[:, 1].min()) or (ringed[0] > squares[:, 0].max()) or (ringed[0] < squares[:, 0].min())
