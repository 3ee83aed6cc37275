"""The page in a real browser: clicks, keys, the address, the table, phone and projector."""

from __future__ import annotations

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

from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import centre, pack
from gapmap.grid.systems import utm
from gapmap.typed import MOST_CLASSES, text_to_classes

pytestmark = pytest.mark.browser
Open = Callable[..., Any]


@pytest.mark.parametrize("view", ["coverage", "species", "find", "growth", "visits", "records"])
def test_every_view_draws_and_asks_no_network(open_page: Open, view: str) -> None:
    opened = open_page(address=f"#view={view}")
    for key in ("as-table", "projector"):
        opened.page.click(f"#{key}")
    opened.page.click("#as-table")
    assert opened.page.get_attribute(f'#views button[data-view="{view}"]', "aria-current") == "page"
    assert opened.colours() > 20
    assert opened.page.locator("#key li").count() >= 2
    assert opened.errors == []
    assert opened.reached == []
    assert [url.split("#")[0] for url in opened.requests] == [opened.path.as_uri()]


def test_views_without_data_do_not_appear(open_page: Open) -> None:
    opened = open_page(make_page(views=False, standing=False))
    assert opened.page.locator("#views button").all_inner_texts() == ["Coverage", "One species"]
    assert "Standing" not in opened.page.locator("#measure option").all_inner_texts()


def test_a_square_shows_the_numbers_of_its_row(open_page: Open) -> None:
    page = make_page()
    row = page.effort[page.effort["date_class"] == -1].iloc[17]
    reference = str(squares_to_references(np.array([row["square"]]))[0])
    opened = open_page(page)
    opened.click_square(reference)
    facts = opened.text("#facts-of-square")
    assert f"Square {reference}" in facts
    for label, column in (("Records", "records"), ("Visits", "visits"), ("Species", "species"), ("Last year", "last")):
        assert re.search(rf"{label}\s+{row[column]}\b", facts), (label, facts)
    assert page.standing is not None
    standing = page.standing[(page.standing["square"] == row["square"]) & (page.standing["date_class"] == -1)].iloc[0]
    assert standing["reason"] in facts
    assert standing["standing"] in facts


def test_a_click_on_the_map_chooses_the_square_under_it(open_page: Open) -> None:
    opened = open_page(make_page(squares=1))
    box = opened.page.locator("#map_gapmap").bounding_box()
    opened.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert opened.text("#facts-of-square h2").startswith("Square O")


def test_legend_counts_are_the_squares(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page)
    lines = dict(
        zip(
            opened.page.locator("#key li span:nth-of-type(1)").all_inner_texts(),
            opened.page.locator("#key .count").all_inner_texts(),
            strict=True,
        )
    )
    assert page.standing is not None
    counts = page.standing.loc[page.standing["date_class"] == -1, "standing"].value_counts()
    for word, count in counts.items():
        assert int(lines[word]) == count
    opened.page.select_option("#date-class", "2")
    opened.page.select_option("#measure", "refound")
    assert "2001–2010" in opened.text("#map-title")


def test_one_species_through_the_classes(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page, address="#view=species")
    name = page.species["name"][5]
    opened.page.fill("#species-text", name[-8:].upper())
    opened.page.keyboard.press("Enter")
    assert name in opened.text("#map-title")
    rows = page.tally[page.tally["species_id"] == 5]
    found = opened.text("#view-facts")
    assert re.search(rf"found in\s+{(rows['date_class'] == -1).sum()}\b", found)
    for k, label in enumerate(("to 2000", "2001–2010", "from 2011")):
        assert re.search(rf"{label}\s+{(rows['date_class'] == k).sum()} square", found)


def test_type_ahead_knows_both_names_and_no_accents(open_page: Open) -> None:
    page = make_page()
    species = page.species.assign(
        vernacular=["Käfer" if i == 4 else v for i, v in enumerate(page.species["vernacular"])]
    )
    opened = open_page(replace(page, species=species), address="#view=species")
    opened.page.fill("#species-text", "kafer")
    assert opened.page.locator("#species-list li").all_inner_texts() == [f"{species['name'][4]} (Käfer)"]
    assert opened.page.get_attribute("#species-text", "aria-expanded") == "true"
    opened.page.keyboard.press("Escape")
    assert opened.page.locator("#species-list").is_hidden()


def test_which_squares_in_june_and_why_without_a_mouse(open_page: Open) -> None:
    """The steps of somebody who has never seen the page: a view, a month, the first square, its reasons."""
    opened = open_page()
    press = opened.page.keyboard.press
    opened.page.focus('#views button[data-view="find"]')
    press("Enter")
    opened.page.focus("#month")
    press("J")
    press("u")
    press("n")
    assert "June" in opened.text("#map-title")
    opened.page.focus("#view-facts .ranked button")
    press("Enter")
    facts = opened.text("#facts-of-square")
    assert "Likeliest to find" in facts
    assert "squares around" in facts
    assert "Oct–Feb" not in facts, "species of other months are left out"


def test_no_month_is_offered_where_no_species_has_its_months(open_page: Open) -> None:
    """Records of whole years: a month to choose would change no number, and a map headed June would deceive."""
    page = make_page()
    assert page.expected is not None
    years_only = replace(page, expected=page.expected.assign(best_months=""))
    opened = open_page(years_only, address="#view=find&month=6&kind=never")
    assert opened.page.locator("#month").count() == 0
    assert "June" not in opened.text("#map-title")
    assert opened.errors == []


def test_month_filter_and_sum_agree_with_the_table(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page, address="#view=find&month=6&kind=never")
    assert page.expected is not None
    rows = page.expected[
        (page.expected["found_before"] == 0) & (page.expected["best_months"].isin(["Apr–Jun", "May–Sep", ""]))
    ]
    sums = rows["chance_if_visited"].round(2).groupby(rows["square"]).sum().sort_values(ascending=False)
    first = opened.page.locator("#view-facts .ranked li").first
    assert first.locator("button").inner_text() == str(squares_to_references(np.array([sums.index[0]]))[0])
    shown = float(re.findall(r"about ([0-9.]+)", first.inner_text())[0])
    assert shown == pytest.approx(sums.iloc[0], abs=0.051)


def test_as_many_date_classes_as_the_settings_allow_are_told_apart(open_page: Open) -> None:
    """ECMA-262: the bits of a number are reckoned with 32 at a time, the last for the sign."""
    page = make_page()
    years = text_to_classes(", ".join(str(1990 + number) for number in range(MOST_CLASSES)))
    spread = {-1: -1, 0: 0, 1: 15, 2: MOST_CLASSES - 1}
    tally, effort = (frame.assign(date_class=frame["date_class"].map(spread)) for frame in (page.tally, page.effort))
    opened = open_page(
        replace(page, classes=years, tally=tally, effort=effort, standing=None), address="#by=species&dates=2020"
    )
    last = effort[effort["date_class"] == MOST_CLASSES - 1]
    for row in last[last["species"] > 0].iloc[[3, -3]].to_dict("records"):
        opened.click_square(str(squares_to_references(np.array([row["square"]]))[0]))
        facts = opened.text("#facts-of-square")
        assert re.search(rf"Species\s+{row['species']}\b", facts), facts
    assert opened.errors == []


def test_a_year_that_is_not_known_is_said_in_words(open_page: Open) -> None:
    """columns.EXPECTED: found_before is 1 where the species was found in a year nobody knows."""
    page = make_page()
    assert page.expected is not None
    best = page.expected.sort_values("chance_if_visited", ascending=False).groupby("square").head(3)
    rows = best[best["square"] == best["square"].iloc[0]]
    opened = open_page(replace(page, expected=rows.assign(found_before=[1, 1998, 0])), address="#view=find")
    opened.click_square(str(squares_to_references(rows["square"].to_numpy()[:1])[0]))
    facts = opened.text("#facts-of-square")
    assert "last found: year not known" in facts
    assert "last found: 1998" in facts
    opened.page.click("#as-table")
    cells = opened.page.locator("#table tbody tr td:nth-child(5)").all_inner_texts()
    assert sorted(cells) == ["", "1998", "year not known"]


def test_a_year_nobody_knows_is_an_empty_cell(open_page: Open) -> None:
    """columns.EFFORT and columns.TALLY: a year is 0 where it is not known, and no year is called 0."""
    page = make_page()
    page = replace(page, effort=page.effort.assign(last=0), tally=page.tally.assign(first=0, last=0), lists=None)
    page.effort.loc[page.effort.index[0], "last"] = 1987
    for view, columns in (("coverage", (7,)), ("species", (6, 7))):
        opened = open_page(page, address=f"#view={view}&table=yes")
        heads = opened.page.locator("#table thead th").all_inner_texts()
        for column in columns:
            assert heads[column - 1] in {"Last year", "First year"}, heads
            cells = opened.page.locator(f"#table tbody tr td:nth-child({column})").all_inner_texts()
            assert set(cells) <= {"", "1987"}, heads[column - 1]


def test_a_species_found_here_already_is_said_to_be(open_page: Open) -> None:
    """A species with nothing left to find in a square where the tally has it."""
    page = make_page()
    assert page.expected is not None
    missing = set(zip(page.expected["square"], page.expected["species_id"], strict=True))
    total = page.tally[page.tally["date_class"] == -1]
    pairs = zip(total["square"], total["species_id"], strict=True)
    square, species = next(pair for pair in pairs if pair not in missing)
    opened = open_page(page, address="#view=find")
    opened.page.fill("#species-text", f"species{species}")
    opened.page.keyboard.press("Enter")
    opened.page.fill("#goto-text", str(squares_to_references(np.array([square]))[0]))
    opened.page.keyboard.press("Enter")
    assert f"species{species}" in opened.text("#map-title")
    assert re.search(rf"species{species}\b.* is already found here\.", opened.text("#facts-of-square"))


def test_growth_plays_and_ends_with_what_is_known(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page, address="#view=growth&year=1962")
    opened.page.click("#play")
    for _ in range(100):
        if opened.page.input_value("#year") > "1963":
            break
        opened.page.wait_for_timeout(100)
    assert opened.page.input_value("#year") > "1963"
    opened.page.click("#play")
    opened.page.fill("#year", "2025")
    total = page.tally[page.tally["date_class"] == -1]
    assert re.search(rf"Species known by 2025\s+{total['species_id'].nunique()}\b", opened.text("#view-facts"))
    assert re.search(rf"Squares with records by 2025\s+{total['square'].nunique()}\b", opened.text("#view-facts"))


def test_growth_counts_species_and_no_genera(open_page: Open) -> None:
    """Every other name is that of a genus; squares that hold such names alone still have records."""
    page = make_page()
    page = replace(page, species=page.species.assign(counts=page.species["species_id"] % 2 == 0))
    opened = open_page(page, address="#view=growth&year=2025")
    total = page.tally[page.tally["date_class"] == -1]
    species = total.loc[total["species_id"] % 2 == 0, "species_id"].nunique()
    assert 0 < species < total["species_id"].nunique()
    assert re.search(rf"Species known by 2025\s+{species}\b", opened.text("#view-facts"))
    assert re.search(rf"Squares with records by 2025\s+{total['square'].nunique()}\b", opened.text("#view-facts"))


def test_arrow_keys_go_from_square_to_square(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page)
    east, north = centre(page.effort["square"].to_numpy())
    square = page.effort["square"].iloc[np.argmin(np.hypot(east - east.mean(), north - north.mean()))]
    opened.click_square(str(squares_to_references(np.array([square]))[0]))
    opened.page.focus("#map_gapmap")
    seen = {opened.text("#facts-of-square h2")}
    for key in ("ArrowRight", "ArrowUp", "ArrowLeft"):
        opened.page.keyboard.press(key)
        seen.add(opened.text("#facts-of-square h2"))
    assert len(seen) == 4
    opened.page.keyboard.press("ArrowDown")
    assert opened.text("#facts-of-square h2") == f"Square {squares_to_references(np.array([square]))[0]}"
    assert opened.page.get_attribute("#facts-of-square", "aria-live") == "polite"


def test_the_address_brings_the_same_view_back(open_page: Open) -> None:
    page = make_page()
    opened = open_page(page, address="#view=species")
    opened.page.fill("#species-text", "species3")
    opened.page.keyboard.press("Enter")
    opened.page.select_option("#date-class", "3")
    opened.page.click("#zoom-in")
    opened.page.wait_for_timeout(500)
    address, title = opened.page.evaluate("location.hash"), opened.text("#map-title")
    again = open_page(page, address=address)
    assert again.text("#map-title") == title
    assert again.page.evaluate("location.hash") == address


@pytest.mark.parametrize(
    "address", ["#view=nothing&by=x&dates=9999&species=none&year=abc&at=1", "#%00%zz", "#at=NaN 1 2", "#square=<b>"]
)
def test_a_spoilt_address_does_no_harm(open_page: Open, address: str) -> None:
    opened = open_page(address=address)
    assert opened.errors == []
    assert opened.text("#map-title").startswith("How each square stands")


def test_references_of_other_sizes_and_places_are_found(open_page: Open) -> None:
    opened = open_page(make_page(squares=200))
    for typed in ("oq 82", "OQ82NE", "OQ8226", "Noss Harbour", "noss harbour"):
        opened.click_square(typed)
        assert opened.page.evaluate("document.getElementById('goto-text').validity.valid"), typed
    opened.click_square("OQ82J")
    assert opened.text("#facts-of-square h2") == "Square OQ82J"
    opened.click_square("OQ8226")
    assert opened.text("#facts-of-square h2") == "Square OQ82I" or opened.text("#facts-of-square h2") == "Square OQ82H"
    opened.click_square("nowhere")
    assert not opened.page.evaluate("document.getElementById('goto-text').validity.valid")


def test_table_sorts_and_downloads_with_formulas_defused(open_page: Open) -> None:
    page = make_page()
    standing = page.standing.assign(reason="=HYPERLINK(1)")  # type: ignore[union-attr]
    opened = open_page(replace(page, standing=standing), address="#table=yes")
    opened.page.click('#table button[data-sort="2"]')
    column = [int(text) for text in opened.page.locator("#table tbody td:nth-child(3)").all_inner_texts()]
    assert column == sorted(page.effort.loc[page.effort["date_class"] == -1, "records"], reverse=True)
    assert opened.page.get_attribute("#table th:nth-child(3)", "aria-sort") == "descending"
    with opened.page.expect_download() as caught:
        opened.page.click("#download")
    text = Path(caught.value.path()).read_bytes().decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 60
    assert {row["Why"] for row in rows} == {"'=HYPERLINK(1)"}
    assert [int(row["Records"]) for row in rows] == column


def test_phone_width_needs_no_sideways_scrolling(open_page: Open) -> None:
    opened = open_page(width=390, height=844)
    for view in ("coverage", "species", "find", "growth", "visits", "records"):
        opened.page.click(f'#views button[data-view="{view}"]')
        assert opened.page.get_attribute(f'#views button[data-view="{view}"]', "aria-current") == "page"
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390
        box = opened.page.locator("#map-box").bounding_box()
        assert box["width"] > 340
        assert box["height"] > 300
    for button in opened.page.locator("#views button").all():
        left, right = button.evaluate("(button) => [button.getBoundingClientRect().left, button.getBoundingClientRect().right]")
        assert 0 <= left < right <= 390, "a view that is off the screen is not found"


def test_twice_the_size_still_fits(open_page: Open) -> None:
    """WCAG 2.2, 1.4.4 and 1.4.10: 200 % of 1280 pixels is a page 640 wide, 400 % one of 320."""
    for width in (640, 320):
        opened = open_page(width=width, height=512)
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= width


def test_projector_mode_is_larger_and_the_map_keeps_half_the_screen(open_page: Open) -> None:
    opened = open_page()
    before = opened.page.evaluate("parseFloat(getComputedStyle(document.querySelector('#key li')).fontSize)")
    opened.page.click("#projector")
    after = opened.page.evaluate("parseFloat(getComputedStyle(document.querySelector('#key li')).fontSize)")
    assert after >= 1.3 * before
    box = opened.page.locator("#map-box").bounding_box()
    assert box["width"] * box["height"] > 0.36 * 1280 * 720


def test_print_is_the_map_its_legend_and_the_facts(open_page: Open) -> None:
    opened = open_page()
    opened.page.emulate_media(media="print")
    for hidden in ("#views", "#controls", ".tools", ".zooming"):
        assert not opened.page.locator(hidden).is_visible()
    for shown in ("#title", "#map-title", "#map-box", "#key", "#made", "#notice"):
        assert opened.page.locator(shown).is_visible()


def test_squares_of_two_zones_share_a_map(open_page: Open) -> None:
    """A square of zone 32 is found by a click where its centre falls in the plane of zone 31."""
    east = np.arange(8) * 10_000
    packed = np.concatenate(
        (
            pack(131, 10_000, 650_000 + east, np.full(8, 5_600_000)),
            pack(132, 10_000, 290_000 + east, np.full(8, 5_600_000)),
        )
    )
    page = make_page(system=utm(31), side=10_000, packed=np.sort(packed), views=False)
    opened = open_page(page)
    reference = str(squares_to_references(np.array([packed[-1]]))[0])
    assert reference.startswith("32U")
    opened.click_square(reference)
    assert opened.text("#facts-of-square h2") == f"Square {reference}"
    box = opened.page.locator("#map_gapmap").bounding_box()
    opened.page.keyboard.press("Escape")
    opened.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert opened.text("#facts-of-square h2") == f"Square {reference}"


def test_old_browsers_without_decompression_still_open_it(open_page: Open, browser: Any) -> None:
    opened = open_page()
    rows = opened.text("#key")
    context = browser.new_context(viewport={"width": 1280, "height": 720}, offline=True)
    context.add_init_script("delete window.DecompressionStream")
    tab = context.new_page()
    tab.goto(opened.path.as_uri())
    tab.wait_for_selector("body[data-ready]", timeout=20_000)
    assert tab.inner_text("#key") == rows
    context.close()


def test_records_beyond_the_area_are_on_the_map_of_records_only(open_page: Open) -> None:
    """A mistyped reference does not shrink the map of the area to a dot, and is no square nobody visited."""
    page = make_page()
    assert page.findings is not None
    far = pack(1, 2_000, [100_000], [100_000])
    findings = page.findings.assign(square=[far[0], *page.findings["square"][1:]])
    opened = open_page(replace(page, findings=findings))
    shown = "map_gapmap.getBounds().contains([101000, 101000])"
    assert not opened.page.evaluate(shown)
    assert opened.text("#subtitle").endswith("60 squares of 2 km")
    assert not opened.page.is_visible("#outside")
    opened.page.click('#views button[data-view="records"]')
    assert opened.text("#outside-text") == "1 square with records to look at lies outside the area."
    assert not opened.page.evaluate(shown)
    opened.page.click("#everything")
    assert opened.page.evaluate(shown)
    reference = str(squares_to_references(far)[0])
    opened.click_square(reference)
    assert opened.text("#facts-of-square h2") == f"Square {reference}"
    assert "lies outside the area" in opened.text("#facts-of-square")
    opened.page.click('#views button[data-view="coverage"]')
    assert opened.page.locator("#facts-of-square h2").count() == 0
    assert opened.errors == []


def test_squares_far_from_all_others_lie_outside_the_first_view(open_page: Open) -> None:
    x, y = (part.ravel() for part in np.meshgrid(np.arange(10), np.arange(10)))
    far = pack(1, 2_000, [100_000], [100_000])
    packed = np.sort(np.concatenate((pack(1, 2_000, 540_000 + 2_000 * x, 640_000 + 2_000 * y), far)))
    opened = open_page(make_page(packed=packed, views=False, boundary=None))
    assert opened.text("#outside-text") == "1 square lies far from the others, outside this view."
    seen = "map_gapmap.getBounds().contains([101000, 101000])"
    assert not opened.page.evaluate(seen)
    opened.page.click("#everything")
    assert opened.page.evaluate(seen)
    assert not opened.page.is_visible("#outside")
