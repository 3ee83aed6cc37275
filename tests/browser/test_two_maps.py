"""Two maps beside each other: one stays, the other goes on being chosen, and both move together."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.browser
Open = Callable[..., Any]


def keep_the_oldest(opened: Any) -> None:
    opened.page.get_by_label("Dates").select_option("to 2000")
    opened.page.get_by_role("button", name="Two maps").click()


def colours_of(opened: Any, box: str) -> list[int]:
    """The canvas of a map, pixel by pixel."""
    return list(
        opened.page.evaluate(
            """(box) => { const c = document.querySelector(box + ' canvas');
        return Array.from(new Uint32Array(c.getContext('2d').getImageData(0, 0, c.width, c.height).data.buffer)
        .filter((_, k) => k % 11 === 0)); }""",
            box,
        )
    )


def shares_of(opened: Any, box: str) -> list[float]:
    """Share of each of the five steps among the pixels that have any of their colours."""
    steps = (0xFDE737, 0xBCAE6C, 0x7C7B78, 0x414D6B, 0x00224E)
    reversed_bytes = [int.from_bytes((0xFF << 24 | step).to_bytes(4, "big")[1:] + b"\xff", "little") for step in steps]
    seen = colours_of(opened, box)
    counts = [seen.count(colour) for colour in reversed_bytes]
    assert sum(counts) > 100, "squares are in view"
    return [count / sum(counts) for count in counts]


def test_the_kept_map_stays_while_the_other_changes(open_page: Open) -> None:
    opened = open_page()
    keep_the_oldest(opened)
    opened.page.wait_for_timeout(200)
    before, legend = shares_of(opened, "#kept-map"), opened.text("#kept-key")
    opened.page.get_by_role("button", name="Still to find").click()
    opened.page.get_by_label("Month").select_option("June")
    opened.page.wait_for_timeout(200)
    assert opened.text("#kept-title") == "How each square stands, to 2000"
    assert opened.text("#map-title").endswith("may add, June")
    assert opened.text("#kept-key") == legend
    assert opened.text("#key") != legend
    assert shares_of(opened, "#kept-map") == pytest.approx(before, abs=0.03)
    assert shares_of(opened, "#map_gapmap") != pytest.approx(before, abs=0.03)
    kept, live = (opened.page.locator(box).bounding_box() for box in ("#kept-map", "#map_gapmap"))
    assert kept["x"] + kept["width"] <= live["x"]
    assert abs(kept["width"] - live["width"]) < 20
    assert [line for line in opened.errors if "willReadFrequently" not in line] == [], "this test reads often"
    opened.page.get_by_role("button", name="Two maps").click()
    assert not opened.page.is_visible("#kept-side")


def test_a_click_on_either_map_marks_the_square_on_both(open_page: Open) -> None:
    opened = open_page()
    keep_the_oldest(opened)
    opened.page.wait_for_timeout(300)
    before = colours_of(opened, "#map_gapmap")
    opened.page.locator("#kept-map").click()
    opened.page.wait_for_timeout(200)
    assert opened.text("#facts-of-square h2").startswith("Square O")
    assert colours_of(opened, "#map_gapmap") != before


def test_both_move_together_and_the_address_brings_them_back(open_page: Open) -> None:
    opened = open_page()
    keep_the_oldest(opened)
    opened.page.wait_for_timeout(300)
    at = opened.page.evaluate("location.hash").split("at=")[1]
    box = opened.page.locator("#kept-map").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    opened.page.mouse.move(x, y)
    opened.page.mouse.down()
    opened.page.mouse.move(x + 60, y + 30, steps=4)
    opened.page.mouse.up()
    opened.page.get_by_role("button", name="One species").click()
    opened.page.wait_for_timeout(600)
    address = opened.page.evaluate("location.hash")
    assert address.split("at=")[1] != at, "dragging the kept map moves the other one"
    again = open_page(address=address)
    again.page.wait_for_timeout(300)
    assert again.text("#kept-title") == "How each square stands, to 2000"
    assert again.page.evaluate("location.hash") == address
    assert shares_of(again, "#kept-map") == pytest.approx(shares_of(opened, "#kept-map"), abs=0.03)


def test_two_maps_stand_above_each_other_on_a_phone_and_print_on_one_sheet(open_page: Open) -> None:
    opened = open_page(width=390, height=844)
    keep_the_oldest(opened)
    kept, live = (opened.page.locator(box).bounding_box() for box in ("#kept-map", "#map_gapmap"))
    assert kept["y"] + kept["height"] < live["y"]
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390
    opened.page.emulate_media(media="print")
    kept, live = (opened.page.locator(box).bounding_box() for box in ("#kept-map", "#map_gapmap"))
    assert kept["y"] == pytest.approx(live["y"], abs=2)
