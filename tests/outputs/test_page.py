"""The page as a file: what is in it, what is not, and that equal input gives equal bytes."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely

from gapmap.columns import EFFORT, EXPECTED, SPECIES, TALLY
from gapmap.errors import OutputError
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import pack, polygons
from gapmap.grid.systems import system_named, utm
from gapmap.outputs.page.build import page_to_html, write_page
from gapmap.outputs.page.contents import Page, public_edition
from gapmap.outputs.page.read import Columns, new_by_year, page_to_columns, page_to_parts
from gapmap.outputs.page.shapes import nearly_all, place_squares

sys.path.append(str(Path(__file__).resolve().parent))
from page_frames import CLASSES, make_page

FILES = Path(__file__).resolve().parents[2] / "gapmap" / "outputs" / "page" / "files"


@pytest.fixture(scope="module")
def page() -> Page:
    return make_page()


@pytest.fixture(scope="module")
def text(page: Page) -> str:
    return page_to_html(page)


class Elements(HTMLParser):
    """Collects elements, their attributes and what stands in scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": []}
        self._open = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        self._open = tag if tag in self.inside and dict(attrs).get("type") is None else ""
        if self._open:
            self.inside[self._open].append("")

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open:
            self.inside[self._open][-1] += data


def test_equal_pages_are_equal_byte_for_byte(page: Page, text: str) -> None:
    assert page_to_html(make_page()) == text


def test_the_page_is_written_whole_and_replaces_the_old_one(page: Page, text: str, tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "coverage.html"
    write_page(path, page)
    write_page(path, page)
    assert path.read_text(encoding="utf-8") == text
    assert [p.name for p in path.parent.iterdir()] == ["coverage.html"]


def test_a_page_that_cannot_be_written_is_one_sentence(page: Page, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, not a folder")
    with pytest.raises(OutputError, match="could not be written"):
        write_page(tmp_path / "taken" / "coverage.html", page)


def test_nothing_in_the_page_asks_for_anything(text: str) -> None:
    elements = Elements(text)
    for tag, attributes in elements.found:
        assert "src" not in attributes, (tag, attributes)
        if "href" in attributes:
            assert attributes["href"] in ("#panel", "data:,")
        assert not [name for name in attributes if name.startswith("on")], "handlers written into elements"
        assert "style" not in attributes
    style = "".join(elements.inside["style"]) + page_to_parts(text)[0].decode()
    assert "url(" not in style.replace("url(#", "")
    assert "@import" not in style
    assert "sourceMappingURL" not in style + page_to_parts(text)[1].decode()


def test_the_policy_names_the_scripts_and_the_styles(text: str) -> None:
    """W3C Content Security Policy level 3: the hash is of the exact text of an element, in UTF-8."""
    elements = Elements(text)
    policy = next(a["content"] for t, a in elements.found if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    for kind, packed in zip(("style", "script"), page_to_parts(text), strict=False):
        assert len(elements.inside[kind]) == 1
        digests = [base64.b64encode(hashlib.sha256(each).digest()).decode()
                   for each in (elements.inside[kind][0].encode(), packed)]
        assert f"{kind}-src 'sha256-{digests[0]}' 'sha256-{digests[1]}';" in policy


@pytest.mark.parametrize(
    "text", ["{{ 7*7 }}", "{# unfinished", "{% for x in y %}", "@@SCRIPT@@", "</script>", "\u2028"]
)
def test_braces_and_tags_reach_the_page_as_data_only(page: Page, text: str) -> None:
    """Neither a template engine nor the HTML parser sees text that came from a file."""
    species = page.species.assign(name=text + page.species["name"])
    written = page_to_html(replace(page, title=text, notice=text, files=(text,), species=species))
    facts, columns = page_to_columns(written)
    kept = text.encode("utf-8", "replace").decode()
    assert facts["title"] == facts["notice"] == facts["files"][0] == kept
    assert all(name.startswith(kept) for name in columns["species.name"])
    assert written.count("<script") == written.count("</script>") == 2


def test_people_may_zoom_the_page(text: str) -> None:
    viewport = next(a["content"] for t, a in Elements(text).found if a.get("name") == "viewport")
    assert viewport == "width=device-width, initial-scale=1"


def test_ids_and_labels_hold(text: str) -> None:
    elements = Elements(text)
    ids = [a["id"] for _, a in elements.found if "id" in a]
    assert len(ids) == len(set(ids))
    labels = [a["for"] for t, a in elements.found if t == "label"]
    assert set(labels) <= set(ids)


def test_the_page_holds_the_columns_it_was_given(page: Page, text: str) -> None:
    facts, columns = page_to_columns(text)
    rows = page.effort[page.effort["date_class"] == 2]
    rows = rows.set_index(pd.Index(squares_to_references(rows["square"].to_numpy()))).loc[columns["reference"]]
    assert columns["effort.3.visits"].tolist() == rows["visits"].tolist()
    assert columns["effort.3.last"].tolist() == rows["last"].tolist()
    order = rows["square"].tolist()
    assert page.standing is not None
    words = page.standing[page.standing["date_class"] == -1].set_index("square").loc[order]
    assert [facts["standings"][code - 1] for code in columns["standing.0.code"]] == words["standing"].tolist()
    assert columns["standing.0.reason"] == words["reason"].tolist()


def test_species_and_classes_of_every_square_come_back(page: Page, text: str) -> None:
    _, columns = page_to_columns(text)
    by_reference: dict[str, set[tuple[str, int]]] = {}
    at = 0
    for reference, count in zip(columns["reference"], columns["found.count"], strict=True):
        ranks, classes = (columns[f"found.{name}"][at : at + count] for name in ("species", "classes"))
        by_reference[reference] = {
            (columns["species.name"][rank], k)
            for rank, bits in zip(ranks, classes, strict=True)
            for k in range(3)
            if bits >> k & 1
        }
        at += count
    rows = page.tally[page.tally["date_class"] >= 0]
    names = page.species["name"].to_numpy()
    expected: dict[str, set[tuple[str, int]]] = {reference: set() for reference in by_reference}
    for reference, species, date_class in zip(
        squares_to_references(rows["square"].to_numpy()), rows["species_id"], rows["date_class"], strict=True
    ):
        expected[str(reference)].add((names[species], int(date_class)))
    assert by_reference == expected


def test_the_years_of_growth_come_back(page: Page, text: str) -> None:
    """The species of a square first found in a year, counted by pandas."""
    facts, columns = page_to_columns(text)
    start, new = new_by_year(Columns(facts["columns"], page_to_parts(text)[3]))
    total = page.tally[(page.tally["date_class"] == -1)]
    counted = total.groupby([pd.Index(squares_to_references(total["square"].to_numpy())), "first"]).size()
    told = {(columns["reference"][i], start + y): new[i, y] for i, y in zip(*np.nonzero(new), strict=True)}
    assert told == counted.to_dict()
    assert columns["effort.first"].tolist() == [min(y for r, y in told if r == each) for each in columns["reference"]]


def test_growth_counts_no_genus(page: Page) -> None:
    """Species 0 and 1 are names of genera here; the others of a square are counted by pandas."""
    plain = replace(page, species=page.species.assign(counts=page.species["species_id"] > 1))
    facts, columns = page_to_columns(page_to_html(plain))
    _, new = new_by_year(Columns(facts["columns"], page_to_parts(page_to_html(plain))[3]))
    total = page.tally[(page.tally["date_class"] == -1)]
    species = total[total["species_id"] > 1]
    assert len(species) < len(total)
    by_square = species.groupby(squares_to_references(species["square"].to_numpy())).size()
    assert dict(zip(columns["reference"], new.sum(axis=1).tolist(), strict=True)) == by_square.to_dict()
    assert columns["growth.species.count"].sum() == species["species_id"].nunique()
    firsts = total.groupby(squares_to_references(total["square"].to_numpy()))["first"].min()
    assert dict(zip(columns["reference"], columns["effort.first"].tolist(), strict=True)) == firsts.to_dict()


def test_what_is_still_to_find_comes_back(page: Page, text: str) -> None:
    """The likeliest of each square, chances to the whole per cent."""
    _, columns = page_to_columns(text)
    assert page.expected is not None
    squares = np.repeat(np.array(columns["reference"]), columns["expected.count"])
    rows = page.expected.assign(square=squares_to_references(page.expected["square"].to_numpy())).set_index(
        ["square", "species_id"]
    )
    ids = {name: k for k, name in enumerate(page.species["name"])}
    keys = [(square, ids[columns["species.name"][rank]])
            for square, rank in zip(squares, columns["expected.species"], strict=True)]
    assert len(set(keys)) == len(keys) == len(rows), "thirty a square are kept, and none has so many"
    rows = rows.loc[keys]
    for name in ("grade", "why", "best_months", "time_of_day", "method", "certainty", "found_before"):
        assert list(columns[f"expected.{name}"]) == rows[name].tolist(), name
    for name in ("chance", "chance_if_visited"):
        assert np.abs(columns[f"expected.{name}"] - rows[name].to_numpy()).max() <= 0.005 + 1e-9, name


def test_more_than_four_classes_fit(page: Page) -> None:
    classes = tuple(CLASSES[:1]) * 6
    tally = page.tally.assign(date_class=np.where(page.tally["date_class"] == 2, 5, page.tally["date_class"]))
    effort = pd.concat(
        [page.effort, *(page.effort[page.effort["date_class"] == 2].assign(date_class=k) for k in (3, 4, 5))]
    )
    _, columns = page_to_columns(
        page_to_html(
            replace(
                page,
                classes=classes,
                tally=tally,
                effort=effort,
                standing=None,
                expected=None,
                visits=None,
                findings=None,
            )
        )
    )
    assert max(columns["found.classes"]) >= 1 << 5


def test_a_page_of_nothing_is_a_page() -> None:
    text = page_to_html(
        Page(
            title="",
            system=system_named("irish"),
            side=10_000,
            classes=(),
            species=SPECIES.empty(),
            tally=TALLY.empty(),
            effort=EFFORT.empty(),
            expected=EXPECTED.empty(),
            made_on=make_page(squares=1).made_on,
        )
    )
    facts, _ = page_to_columns(text)
    assert facts["squares"] == 0


def test_a_public_page_carries_no_names_of_people(page: Page) -> None:
    with pytest.raises(TypeError, match="public"):
        replace(page, edition="public")
    text = page_to_html(public_edition(page))
    facts, columns = page_to_columns(text)
    everything = text + repr(facts) + repr(columns)
    for private in ("Marwick", "Tam O", "Brae of Noss", "isle.csv"):
        assert private not in everything
    private_text = repr(page_to_columns(page_to_html(page)))
    assert "Marwick" in private_text, "the search would find a name if there were one"


def test_a_broken_table_is_refused(page: Page) -> None:
    with pytest.raises(TypeError, match="lacks visits"):
        replace(page, effort=page.effort.drop(columns="visits"))


def test_squares_of_another_zone_are_outlines() -> None:
    """Zone 31 ends at 6° east: its last squares are cut there, and those of zone 32 lie askew in its plane."""
    own = pack(131, 10_000, [600_000, 610_000], [5_600_000, 5_600_000])
    cut = pack(131, 10_000, [710_000], [5_600_000])
    other = pack(132, 10_000, [290_000], [5_600_000])
    placed = place_squares(np.concatenate((own, cut, other)), 131, 10_000)
    assert placed.in_picture == 2
    assert placed.squares[:2].tolist() == own.tolist()
    assert set(placed.squares[2:].tolist()) == {*cut.tolist(), *other.tolist()}
    expected = polygons(placed.squares[2:], utm(31))
    assert np.allclose(shapely.area(placed.outlines), shapely.area(expected))
    assert placed.place_of(np.array([other[0], 5])).tolist() == [placed.squares.tolist().index(other[0]), -1]


def test_far_apart_squares_make_no_giant_picture() -> None:
    placed = place_squares(pack(1, 100, [0, 699_900], [0, 1_299_900]), 1, 100)
    assert (placed.in_picture, len(placed.outlines)) == (0, 2)


def test_every_word_the_script_asks_for_is_in_the_table(text: str) -> None:
    facts, _ = page_to_columns(text)
    scripts = "".join(path.read_text(encoding="utf-8") for path in FILES.glob("*.js"))
    template = (FILES / "page.html").read_text(encoding="utf-8")
    asked = re.findall(r'say\(\s*"(\w+)"[,)]', scripts) + re.findall(r'data-(?:word|label)="(\w+)"', template)
    assert len(asked) > 100
    assert sorted(set(asked) - set(facts["words"])) == []


def test_no_word_is_given_twice() -> None:
    keys: list[str] = []
    json.loads(
        (FILES / "words.en.json").read_text(encoding="utf-8"),
        object_pairs_hook=lambda pairs: keys.extend(k for k, _ in pairs),
    )
    assert len(keys) == len(set(keys)) > 150


def test_far_outliers_do_not_shrink_the_map_to_a_dot() -> None:
    x, y = (part.ravel() for part in np.meshgrid(np.arange(20), np.arange(20)))
    near = pack(1, 2_000, 540_000 + 2_000 * x, 640_000 + 2_000 * y)
    far = pack(1, 2_000, [100_000, 640_000], [100_000, 1_200_000])
    placed = place_squares(np.sort(np.concatenate((near, far))), 1, 2_000)
    assert nearly_all(placed, 2_000) == ([540_000, 640_000, 580_000, 680_000], 2)
    alone = place_squares(np.sort(near), 1, 2_000)
    assert nearly_all(alone, 2_000) == ([540_000, 640_000, 580_000, 680_000], 0)
    strip = place_squares(np.sort(pack(1, 2_000, 500_000 + 2_000 * np.arange(100), np.full(100, 640_000))), 1, 2_000)
    assert nearly_all(strip, 2_000)[1] == 0, "a long even strip has no outliers"


def test_with_a_boundary_the_whole_extent_is_the_view(page: Page) -> None:
    facts, _ = page_to_columns(page_to_html(page))
    assert facts["view"] == facts["extent"]
    assert facts["outside_view"] == 0


def test_species_still_to_find_are_a_layer_with_their_interval(page: Page, text: str) -> None:
    """Squares can be coloured by the sum of chances; a square that cannot be judged stays empty."""
    squares = np.sort(page.effort["square"].unique())[:3]
    still = pd.DataFrame(
        {
            "square": squares,
            "still_to_find": [12.34, 0.0, np.nan],
            "still_low": [5.0, 0.0, np.nan],
            "still_high": [20.0, 0.4, np.nan],
        }
    )
    facts, columns = page_to_columns(page_to_html(replace(page, still=still)))
    assert facts["measures"][-1] == "still"
    assert facts["opens_at"] == "coverage"
    assert "still" not in page_to_columns(text)[0]["measures"]
    by_reference = dict(zip(columns["reference"], columns["still.still_to_find"], strict=False))
    told = [by_reference[reference] for reference in squares_to_references(squares)]
    assert told[:2] == [12.3, 0.0]
    assert np.isnan(told[2])
    assert np.isfinite(np.asarray(columns["still.still_high"], dtype=float)).sum() == 2


def test_distances_are_rounded_up_to_whole_kilometres_as_in_the_table(page: Page, text: str) -> None:
    """8.6 km one way is 9 km in visits.csv; by hand."""
    assert page.visits is not None
    assert set(page.visits["travel_m"]) == {8_600.0}
    _, columns = page_to_columns(text)
    assert set(columns["visit.travel_km"].tolist()) == {9}


def test_sheets_of_a_workbook_are_one_file_to_everybody(page: Page) -> None:
    """By hand: a workbook with two sheets of records, an archive and a plain file are three files."""
    names = ("book.xlsx: Field", "book.xlsx: Town nights", "old.zip: occurrence.txt", "a.csv")
    assert public_edition(replace(page, files=names)).files == ("3 files",)
    assert public_edition(replace(page, files=names[:2])).files == ("1 file",)


def test_only_the_edition_with_a_table_of_what_is_expected_names_it() -> None:
    """The public folder holds no expected.csv (workflow/report.py); the words are the page's own."""
    words = json.loads((FILES / "words.en.json").read_text(encoding="utf-8"))
    assert "expected.csv" in words["expected_kept_private"]
    assert "." not in words["expected_kept_public"].removesuffix(".")
