"""The story of one square says what the tables say."""

from __future__ import annotations

import pytest

from gapmap.coverage.completeness import standing
from gapmap.coverage.effort import effort
from gapmap.coverage.story import Section, square_story
from gapmap.coverage.tally import tally
from gapmap.errors import GapmapError
from gapmap.grid.squares import pack
from gapmap.outputs.story import story_to_text
from gapmap.settings import ThresholdsSection
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-")
HOME = int(pack(1, 2000, 500_000, 600_000).item())


def story_of(make_records, rows, square: int = HOME, sensitive: int = -1, **more):
    records = make_records(rows)
    species = records.species.copy()
    species.loc[species["species_id"] == sensitive, "sensitive_m"] = 10_000
    counts, work = tally(records, 2000, CLASSES), effort(records, 2000, CLASSES, squares=[square])
    stand = standing(counts, work, ThresholdsSection())
    return square_story(square, counts, work, stand, species, CLASSES, ThresholdsSection(), **more)


ROWS = [(1, 0, 0, 1000, "1990-05-01", 1), (2, 0, 0, 1000, "1990-05-01", 1), (1, 0, 0, 1000, "2004-06-01", 2)]


def test_sections_come_in_the_order_of_use(make_records) -> None:
    story = story_of(make_records, ROWS, more=[Section("Still to find")])
    assert story.title == "OQ00A, a square of 2 km"
    assert [one.title for one in story.sections] == [
        "from 2001", "What to do", "Still to find", "to 2000", "All dates", "Species",
    ]


def test_species_to_find_again_are_named_with_their_last_year(make_records) -> None:
    todo = story_of(make_records, ROWS).sections[1]
    assert todo.tables[0].rows == (("Species 2", "1990", "1"),)
    assert "1 species known from before to find again." in todo.sentences
    assert any("tell somebody where you are" in one for one in todo.sentences)


def test_what_is_wanted_are_visits_and_species_to_find_again(make_records) -> None:
    """7 of 11.17 species found in 6 visits, and 2.2 more visits to three quarters, as in test_standing.py; of 10 known
    before 1 was found again, and 8 are three quarters, so 7 more.
    """
    lists = [[1, 2], [1, 3], [1, 4], [1, 5, 7], [1, 6, 7], [1]]
    rows = [(one, 0, 0, 1000, f"2010-05-{day:02d}", 1) for day, each in enumerate(lists, start=1) for one in each]
    rows += [(one, 0, 0, 1000, "1990-05-01", 1) for one in (1, *range(21, 30))]
    assert story_of(make_records, rows).sections[1].sentences[0] == (
        "To be well covered it wants about 3 more visits to find 75 % of the species estimated to be there and 7 more "
        "of the 10 species known from before, to find 75 % of them again."
    )
    done = [(one, 0, 0, 1000, f"2010-05-{day:02d}", 1) for day in range(1, 7) for one in (1, 2)]
    assert story_of(make_records, done).sections[1].sentences[0] == "No further visit is needed for coverage."


def test_numbers_are_those_of_the_tables(make_records) -> None:
    facts = dict(story_of(make_records, ROWS).sections[0].facts)
    assert facts["Records"] == "1"
    assert facts["Months"] == "June"
    assert facts["Known from before and found again"] == "1 of 2"


def test_sensitive_species_are_marked(make_records) -> None:
    last = story_of(make_records, ROWS, sensitive=2).sections[-1]
    assert [row[0] for row in last.tables[0].rows] == ["Species 1", "Species 2 *"]
    assert "sensitive" in last.sentences[1]


def test_a_square_without_records_has_a_story_too(make_records) -> None:
    empty = int(pack(1, 2000, 504_000, 600_000).item())
    text = story_to_text(story_of(make_records, ROWS, square=empty))
    assert "Not visited. No record lies in these dates." in text
    assert "Any visit that lists all it finds is a beginning." in text
    assert "No species is known from here." in text
    assert "Records:" not in text, "rows of noughts tell nobody anything"


def test_a_square_nobody_asked_about_is_refused(make_records) -> None:
    records = make_records(ROWS)
    counts, work = tally(records, 2000, CLASSES), effort(records, 2000, CLASSES)
    stand = standing(counts, work, ThresholdsSection())
    elsewhere = int(pack(1, 2000, 510_000, 600_000).item())
    with pytest.raises(GapmapError, match="OQ10"):
        square_story(elsewhere, counts, work, stand, records.species, CLASSES, ThresholdsSection())
