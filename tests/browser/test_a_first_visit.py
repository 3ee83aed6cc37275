"""Somebody who has never seen the page asks: which squares should we visit in June, and why?

Driven with real clicks on words that can be read, and again with keys alone; each test is the list of its steps.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from page_frames import make_page

from gapmap.outputs.page.contents import public_edition

pytestmark = pytest.mark.browser
Open = Callable[..., Any]


def test_which_squares_in_june_and_why_on_the_public_page(open_page: Open) -> None:
    page = open_page(public_edition(make_page()), width=1366, height=768).page
    page.get_by_text("Still to find", exact=True).click()
    page.get_by_label("Month").select_option("June")
    assert page.get_by_role("heading", name="Squares to visit first, June").is_visible()
    page.locator(".ranked button").first.click()
    why = page.locator("#facts-of-square .why").inner_text()
    assert re.match(r"One good visit may add about [\d.]+ species: \d+ of those below were never found here", why)
    assert page.get_by_text("The percentage is the chance that one visit").is_visible()
    assert page.get_by_text("squares around").first.is_visible(), "why each species is expected"
    assert page.locator(".ranked").bounding_box() is not None, "the list is still there for the next square"


def test_who_goes_where_in_june_on_the_private_page(open_page: Open) -> None:
    page = open_page(width=1366, height=768).page
    page.get_by_role("button", name="Visits", exact=True).click()
    page.get_by_label("Month").select_option("June")
    assert page.get_by_role("heading", name="6 visits in date order, June").is_visible()
    page.locator("#view-facts button").first.click()
    assert page.locator("#facts-of-square").get_by_text("Look for: Oniscus asellus").is_visible()
    assert page.get_by_text("Before going: ask for access").is_visible()
    page.get_by_label("Month").select_option("May")
    assert page.get_by_role("heading", name="0 visits in date order, May").is_visible()


def test_the_same_with_keys_alone(open_page: Open) -> None:
    page = open_page(width=1366, height=768).page
    press = page.keyboard.press
    pressed = 0

    def tab_to(wanted: str) -> None:
        nonlocal pressed
        for _ in range(40):
            press("Tab")
            pressed += 1
            if page.evaluate("document.activeElement.textContent || document.activeElement.id").strip() == wanted:
                return
            if page.evaluate("document.activeElement.id") == wanted:
                return
        raise AssertionError(f"{wanted} cannot be reached")

    tab_to("Still to find")
    press("Enter")
    tab_to("month")
    page.keyboard.type("June")
    assert "June" in page.inner_text("#map-title")
    first = page.locator(".ranked button").first.inner_text()
    tab_to(first)
    press("Enter")
    assert page.inner_text("#facts-of-square h2") == f"Square {first}"
    assert pressed < 40, "a minute is enough"
