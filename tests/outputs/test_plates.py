"""Plates: real text, equal files, hatches, odd names, empty areas, and small files.

What a plate must show is this project's own promise; that text in a PDF and an SVG is text is checked with
poppler's pdftotext and the XML parser of the standard library.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from PIL import Image

sys.path.append(str(Path(__file__).resolve().parent))
from page_frames import make_page

from gapmap.columns import EFFORT, STANDING, TALLY
from gapmap.grid.squares import pack
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.atlas import write_atlas
from gapmap.outputs.plates.curves import MOST_ROWS, calendar_plates, growth_plate
from gapmap.outputs.plates.hours import hours_plate
from gapmap.outputs.plates.maps import coverage_plate, species_plate, still_to_find_plate
from gapmap.outputs.plates.sheet import save_plate

ODD = "Genus $x_1$ & <b>\\frac{1}{0}</b> {{ 7*7 }} %s " + "longissimus " * 20


@pytest.fixture(scope="module")
def page() -> Page:
    return make_page(120, 12, 6)


def pdf_text(path: Path) -> str:
    program = shutil.which("pdftotext")
    if program is None:
        pytest.skip("pdftotext is not on this machine")
    return subprocess.run([program, "-layout", str(path), "-"], capture_output=True, check=True).stdout.decode()


def empty(page: Page) -> Page:
    return replace(
        page, tally=TALLY.empty(), effort=EFFORT.empty(), standing=STANDING.empty(), expected=None, lists=None,
        visits=None, findings=None, background=(), boundary=None,
    )  # fmt: skip


def one_species_calendar(species: int, months: dict[int, tuple[int, int]]) -> pd.DataFrame:
    """Species × month × two times of day, with lists and finds by month split over the times."""
    rows = [
        (kind, month, time, *(months.get(month, (0, 0)) if time == "day" else (0, 0)))
        for kind in range(species) for month in range(1, 13) for time in ("day", "night")
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=["species_id", "month", "time_of_day", "lists", "finds"])
    return frame.assign(can_say=frame["lists"] >= 5)


@pytest.mark.parametrize("kind", ["standing", "species", "visits", "lists", "last"])
def test_text_in_a_pdf_is_text(page: Page, tmp_path: Path, kind: str) -> None:
    save_plate(coverage_plate(page, kind), tmp_path / "plate.pdf")
    text = " ".join(pdf_text(tmp_path / "plate.pdf").split())
    for words in ("Invented isle", "Invented island, invented records.", "31 January 2026", "isle.csv", "Noss Harbour",
                  "888 records are too coarse", "OQ"):  # fmt: skip
        assert words in text, words


def test_the_legend_counts_the_squares(page: Page, tmp_path: Path) -> None:
    save_plate(coverage_plate(page), tmp_path / "plate.pdf")
    text = pdf_text(tmp_path / "plate.pdf")
    assert page.standing is not None
    counts = page.standing.loc[page.standing["date_class"] == -1, "standing"].value_counts()
    for word, count in counts.items():
        assert re.search(rf"{word}: {count}\b", text), word


def test_text_in_an_svg_is_text(page: Page, tmp_path: Path) -> None:
    save_plate(species_plate(page, 4), tmp_path / "plate.svg")
    texts = [e.text or "" for e in ElementTree.parse(tmp_path / "plate.svg").iter("{http://www.w3.org/2000/svg}text")]
    assert "Genus0 species4" in texts
    found = page.tally[(page.tally["species_id"] == 4) & (page.tally["date_class"] == -1)]
    assert any(f"found in {len(found)} squares" in text for text in texts)


def test_records_too_coarse_are_not_said_to_be_of_one_species(page: Page, tmp_path: Path) -> None:
    """The page counts those of all species together (888 of them)."""
    save_plate(species_plate(page, 4), tmp_path / "plate.pdf")
    text = " ".join(pdf_text(tmp_path / "plate.pdf").split())
    assert "888 records of all species are too coarse" in text


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_equal_plates_are_equal_files(page: Page, tmp_path: Path, kind: str) -> None:
    for name in ("a", "b"):
        save_plate(coverage_plate(page), tmp_path / f"{name}.{kind}")
    assert (tmp_path / f"a.{kind}").read_bytes() == (tmp_path / f"b.{kind}").read_bytes()


def test_a_wide_area_lies_across_and_a_tall_one_stands(tmp_path: Path) -> None:
    for wide, high, across in ((20, 8, True), (8, 20, False)):
        x, y = (part.ravel() for part in np.meshgrid(np.arange(wide), np.arange(high)))
        packed = np.sort(pack(1, 2_000, 540_000 + x * 2_000, -80_000 + y * 2_000))
        figure = coverage_plate(make_page(packed=packed, views=False))
        save_plate(figure, tmp_path / "plate.png")
        width, height = Image.open(tmp_path / "plate.png").size
        assert (width > height) == across
        assert {width, height} == {round(8.27 * 300), round(11.69 * 300)}, "A4 at 300 dots an inch (ISO 216)"


def boxes(figure: Figure) -> tuple[object, list[object]]:
    """The map's frame and every text of the sheet outside it, in pixels."""
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    return figure.axes[0].get_window_extent(renderer), [
        t.get_window_extent(renderer) for t in figure.texts if t.get_text()
    ]


@pytest.mark.parametrize("shape", [(20, 8), (8, 20), (12, 12)])
def test_no_words_lie_over_the_map_or_leave_the_sheet(shape: tuple[int, int]) -> None:
    x, y = (part.ravel() for part in np.meshgrid(np.arange(shape[0]), np.arange(shape[1])))
    packed = np.sort(pack(1, 2_000, 540_000 + x * 2_000, -80_000 + y * 2_000))
    page = make_page(packed=packed, views=False, title="A name of an area that goes on and on " * 4,
                     files=tuple(f"a file with a rather long name {k}.csv" for k in range(9)))  # fmt: skip
    [months] = calendar_plates(page, one_species_calendar(9, {6: (50, 9)}), page.species.head(9))
    for figure in (coverage_plate(page), species_plate(page, 3), months):
        frame, texts = boxes(figure)
        width, height = figure.canvas.get_width_height()
        for box in texts:
            assert not frame.overlaps(box), box  # type: ignore[attr-defined]
            assert not any(box.overlaps(other) for other in texts if other is not box), box  # type: ignore[attr-defined]
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height, box  # type: ignore[attr-defined]  # noqa: PT018


def test_hatches_are_seen_in_grey(page: Page, tmp_path: Path) -> None:
    """A square that cannot be judged differs from an even fill by its lines, with the colours taken away."""
    assert page.standing is not None
    standing = page.standing.assign(standing="can't say")
    save_plate(coverage_plate(replace(page, standing=standing, background=(), boundary=None)), tmp_path / "plate.png")
    grey = np.asarray(Image.open(tmp_path / "plate.png").convert("L"), dtype=float)
    high, wide = grey.shape
    middle = grey[int(high * 0.45) : int(high * 0.55), int(wide * 0.35) : int(wide * 0.5)]
    assert (middle < 100).mean() > 0.02, "dark lines"
    assert (middle > 200).mean() > 0.5, "on a pale ground"


def test_names_are_drawn_as_they_stand(page: Page, tmp_path: Path) -> None:
    names = [ODD if k == 2 else name for k, name in enumerate(page.species["name"])]
    odd = replace(page, species=page.species.assign(name=names), title="Isle of $5$", notice="100 % {made} \\up")
    save_plate(species_plate(odd, 2), tmp_path / "plate.pdf")
    text = " ".join(pdf_text(tmp_path / "plate.pdf").split())
    for words in ("Genus $x_1$ & <b>\\frac{1}{0}</b> {{ 7*7 }} %s", "Isle of $5$", "100 % {made} \\up", "…"):
        assert words in text


def test_a_species_without_squares_is_an_honest_empty_map(page: Page, tmp_path: Path) -> None:
    without = replace(page, tally=page.tally[page.tally["species_id"] != 5])
    save_plate(species_plate(without, 5), tmp_path / "plate.pdf")
    text = pdf_text(tmp_path / "plate.pdf")
    assert "found in 0 squares" in " ".join(text.split())
    assert "visited enough, not found" in text


def test_where_few_have_looked_a_plate_cannot_say_that_a_species_is_not_there(page: Page, tmp_path: Path) -> None:
    """No record is not absence (common practice, no source): casual records are too few to miss a species by."""
    assert page.standing is not None
    casual = replace(page, standing=page.standing.assign(standing="casual records only"))
    save_plate(species_plate(replace(casual, tally=page.tally[page.tally["species_id"] != 5]), 5), tmp_path / "plate.pdf")
    text = " ".join(pdf_text(tmp_path / "plate.pdf").split())
    assert "can't say: too few visits" in text
    assert "visited enough" not in text


def test_an_empty_area_is_a_plate(page: Page, tmp_path: Path) -> None:
    nothing = empty(page)
    for figure in (
        coverage_plate(nothing),
        coverage_plate(nothing, "last"),
        species_plate(nothing, 3),
        growth_plate(nothing),
    ):
        save_plate(figure, tmp_path / "plate.pdf")
        assert "Invented isle" in pdf_text(tmp_path / "plate.pdf")
    assert write_atlas(nothing, tmp_path / "atlas.pdf") == 0


def test_growth_counts_species_and_no_genera() -> None:
    """Every other name is that of a genus; the squares are those with any record."""
    page = make_page()
    page = replace(page, species=page.species.assign(counts=page.species["species_id"] % 2 == 0))
    total = page.tally[page.tally["date_class"] == -1]
    ends = [axes.lines[0].get_ydata()[-1] for axes in growth_plate(page).axes if axes.lines]
    species = total.loc[total["species_id"] % 2 == 0, "species_id"].nunique()
    assert ends == [species, total["square"].nunique()]


def test_squares_of_another_zone_are_drawn() -> None:
    packed = np.sort(
        np.concatenate((pack(131, 10_000, [650_000], [5_600_000]), pack(132, 10_000, [290_000], [5_600_000])))
    )
    from gapmap.grid.systems import utm

    figure = coverage_plate(make_page(system=utm(31), side=10_000, packed=packed, views=False))
    assert len(figure.axes[0].collections) >= 1


def test_still_to_find_shows_the_numbers_of_the_page(page: Page, tmp_path: Path) -> None:
    """Rounded as the page rounds: 2.3 species are 2, 0.5 are 1, 0.4 are hardly any; of the others nothing is known."""
    squares = page.effort["square"].unique()
    still = pd.DataFrame({"square": squares, "still_to_find": [2.3, 0.5, 0.4, *[np.nan] * (len(squares) - 3)]})
    save_plate(still_to_find_plate(replace(page, still=still)), tmp_path / "plate.pdf")
    text = pdf_text(tmp_path / "plate.pdf")
    for words in ("1 species", "2 species", "none or hardly any", "can't say"):
        assert re.search(rf"\b{words}(?!\S)", text), words


def test_the_calendar_hatches_months_with_too_few_lists(page: Page, tmp_path: Path) -> None:
    months = {m: (50, 10 if m in (5, 6) else 1) for m in range(3, 11)} | {1: (4, 1)}
    [figure] = calendar_plates(page, one_species_calendar(3, months), page.species.head(3))
    hatched = [patch for patch in figure.axes[0].patches if patch.get_hatch()]
    assert len(hatched) == 3 * 4, "January has 4 lists; February, November and December none"
    save_plate(figure, tmp_path / "plate.pdf")
    text = pdf_text(tmp_path / "plate.pdf")
    assert "Genus0 species2" in text
    assert "can't say" in text


def test_the_calendar_adds_up_the_lists_of_all_times_of_day(page: Page) -> None:
    """Four lists by day and four by night are eight in March, and five are enough to say something of a month."""
    months = one_species_calendar(1, {3: (4, 2), 6: (50, 9)})
    months.loc[(months["month"] == 3) & (months["time_of_day"] == "night"), "lists"] = 4
    [figure] = calendar_plates(page, months, page.species.head(1))
    hatched = {patch.get_x() + 0.5 for patch in figure.axes[0].patches if patch.get_hatch()}
    assert hatched == {month - 1 for month in range(1, 13) if month not in (3, 6)}


def test_a_long_calendar_takes_several_sheets(page: Page) -> None:
    species = make_page(4, MOST_ROWS + 5, 2, views=False).species
    figures = calendar_plates(page, one_species_calendar(len(species), {6: (50, 9)}), species)
    assert len(figures) == 2
    assert [len(f.axes[0].get_yticklabels()) for f in figures] == [MOST_ROWS, 5]
    [nothing] = calendar_plates(page, one_species_calendar(2, {}), page.species.head(2))
    assert "No list with a known month" in nothing.axes[0].texts[0].get_text()


def test_the_atlas_has_an_index_that_is_right(page: Page, tmp_path: Path) -> None:
    assert write_atlas(page, tmp_path / "atlas.pdf") == 12
    pages = pdf_text(tmp_path / "atlas.pdf").split("\f")
    assert "Coverage" in pages[0]
    for number, name in enumerate(page.species["name"]):
        line = next(line for line in pages[1].splitlines() if re.search(rf"\b{name}\b", line))
        squares = (page.tally[page.tally["date_class"] == -1]["species_id"] == number).sum()
        found = re.search(rf"{name}\b(?: \([^)]*\))?\s+(\d+)\s+(\d+)", line)
        assert found is not None
        assert int(found[1]) == squares
        assert name in pages[int(found[2]) - 1]
    before = (tmp_path / "atlas.pdf").read_bytes()
    write_atlas(page, tmp_path / "atlas.pdf")
    assert (tmp_path / "atlas.pdf").read_bytes() == before


def test_ten_thousand_squares_are_a_small_file(tmp_path: Path) -> None:
    """One pixel a square instead of an outline; how long a plate takes is measured in tests/benchmarks/plates.py."""
    page = make_page(10_000, 12, 6, side=1_000, views=False)
    save_plate(coverage_plate(page), tmp_path / "plate.pdf")
    assert (tmp_path / "plate.pdf").stat().st_size < 600_000


def test_months_and_hours_show_what_was_looked_at(page: Page) -> None:
    """A cell says how many lists were made then; where nobody looked it is white and says nothing."""
    kind = int(page.species["species_id"].iloc[0])
    hours = pd.DataFrame(
        {
            "species_id": kind,
            "month": [0, 0, 6, 6],
            "hour": [1, 12, 1, 12],
            "lists": [3, 40, 3, 37],
            "activity": [3.0, 0.9, 2.5, 0.4],
            "can_say": [False, True, False, True],
        }
    )
    axes = hours_plate(page, kind, hours).axes[-1]
    assert {(text.get_position(), text.get_text()) for text in axes.texts} == {
        ((1, 0), "3"), ((12, 0), "40"), ((1, 6), "3"), ((12, 6), "37"),
    }  # fmt: skip
    picture = np.asarray(axes.images[0].get_array())
    assert (picture[0, 5] == 1).all()
    assert not np.array_equal(picture[6, 1], picture[6, 12])
    assert len(axes.patches) == 2, "the hour with three lists is hatched in its month and in the year"
    nothing = hours_plate(page, kind, hours.iloc[:0]).axes[-1]
    assert [text.get_text() for text in nothing.texts] == ["No list of its group tells the hour."]
