"""The story of one square in text and HTML: everything is said, nothing from a file can act."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from gapmap.coverage.story import Rows, Section, Story
from gapmap.outputs.story import story_to_html, story_to_text, write_story

HOSTILE = '<script>alert(1)</script>{{ 7 * 7 }}"\x1b[2J\u202e'
STORY = Story(
    "OQ00A, a square of 2 km",
    "Invented data",
    (
        Section(
            "2001–2010",
            ("Begun. 2 visits.", HOSTILE),
            (("Lists", HOSTILE),),
            (Rows("Found here", ("species", "last"), ((HOSTILE, "2005"),)),),
        ),
    ),
)


def test_html_is_whole_and_escaped() -> None:
    html = story_to_html(STORY)
    assert "<script" not in html
    assert html.count("&lt;script&gt;alert(1)&lt;/script&gt;") == 3
    page = ElementTree.fromstring(
        html.replace("<!DOCTYPE html>", "")
        .replace('<meta charset="utf-8">', "")
        .replace("\x1b", "")
        .replace('initial-scale=1">', 'initial-scale=1"/>')
        .replace("form-action 'none'\">", "form-action 'none'\"/>")
        .replace('form-action &#x27;none&#x27;">', 'form-action &#x27;none&#x27;"/>')
    )
    assert [one.text for one in page.iter("h2")] == ["2001–2010"]
    assert "default-src &#x27;none&#x27;" in html


def test_text_holds_no_control_characters() -> None:
    text = story_to_text(STORY)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "Found here:" in text
    assert max(len(line) for line in text.splitlines() if "script" not in line) <= 78


def test_the_ending_of_the_name_decides(tmp_path) -> None:
    write_story(STORY, tmp_path / "square.html")
    write_story(STORY, tmp_path / "square.txt")
    assert (tmp_path / "square.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert (tmp_path / "square.txt").read_text(encoding="utf-8").startswith("OQ00A, a square of 2 km\n====")
