"""A story with a wide table on a telephone: the table moves sideways in its own box, the words stay."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gapmap.coverage.story import Rows, Section, Story
from gapmap.outputs.story import write_story

pytestmark = pytest.mark.browser
HEADS = ("method", "AUC", "average precision", "log loss", "Brier score", "calibration intercept", "five best found")


def test_a_wide_table_leaves_the_page_as_wide_as_the_screen(browser: Any, tmp_path: Path) -> None:
    table = Rows("Scores", HEADS, (("neighbours", *["0.123"] * 6),))
    write_story(Story("Scores", "", (Section("Scores", ("Better is higher.",), (), (table,)),)), tmp_path / "story.html")
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto((tmp_path / "story.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.evaluate("document.querySelector('table').scrollWidth") > 390, "the table is as wide as it was"
    page.close()
