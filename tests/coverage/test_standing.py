"""Standing: each word from a small picture, and the sentence from the same numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gapmap.coverage.completeness import STANDINGS, near_misses, standing
from gapmap.coverage.effort import effort
from gapmap.coverage.tally import tally
from gapmap.settings import ThresholdsSection
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-")
THRESHOLDS = ThresholdsSection()


def stand(make_records, rows, others=(), **kwargs) -> pd.DataFrame:
    records = make_records(rows, others)
    return standing(tally(records, 2000, CLASSES), effort(records, 2000, CLASSES, **kwargs), THRESHOLDS)


def now(frame: pd.DataFrame) -> pd.Series:
    return frame[frame["date_class"] == 1].iloc[0]


def visits(lists: list[list[int]], *, year: int = 2010, east: int = 0, people: int = 1) -> list[tuple]:
    """One visit a list, on the days of May and June of the year."""
    return [
        (species, east, 0, 1000, f"{year}-{5 + n // 28:02d}-{n % 28 + 1:02d}", people)
        for n, species_list in enumerate(lists) for species in species_list
    ]


def test_not_visited(make_records) -> None:
    one = now(stand(make_records, visits([[1, 2]], year=1990)))
    assert one["standing"] == "not visited"
    assert one["reason"] == "No record lies in these dates. 2 species known from before."


def test_casual_records_only(make_records) -> None:
    one = now(stand(make_records, visits([[1], [2], [1]])))
    assert one["standing"] == "casual records only"
    assert one["reason"] == "3 records of 2 species, and no list of two species or more."


def test_one_good_list_is_begun(make_records) -> None:
    one = now(stand(make_records, visits([[1, 2, 3, 4]])))
    assert (one["standing"], one["reason"]) == (
        "begun", "1 visit found 4 species; 5 more visits before it can be judged."
    )
    assert np.isnan(one["estimate"])


def test_well_covered_by_hand(make_records) -> None:
    """Six visits; species on 1, 2, 3 and 6 of them: Q1 (Q1 - 1) is 0, so the estimate is the 4 found."""
    one = now(stand(make_records, visits([[1, 2], [1, 3], [1, 3], [1, 4], [1, 4], [1, 4]])))
    assert one["estimate"] == 4
    assert one["standing"] == "well covered"
    assert one["reason"] == "6 visits found 4 species of at least 4 estimated to be there (100 %)."
    assert one["visits_needed"] == 0


def test_well_covered_needs_half_of_the_upper_end_too(make_records) -> None:
    """Six visits; species on 1, 1, 1, 2 and 6 of them: 5 + 5/6 × 3 × 2 / (2 × 2) = 6.25, of which 5 are 80 %."""
    rows = visits([[1, 2], [1, 3], [1, 4], [1, 5], [1, 5], [1]])
    one = now(stand(make_records, rows))
    assert one["estimate"] == pytest.approx(6.25)
    assert one["share_low"] == pytest.approx(5 / one["estimate_high"])
    assert one["share_low"] < 0.5
    assert one["standing"] == "part covered"
    high = round(one["estimate_high"])
    assert one["reason"] == (
        f"6 visits found 5 species of at least 6.2 estimated to be there (80 %); but the data would allow up to {high}."
    )
    records = make_records(rows)
    tables = tally(records, 2000, CLASSES), effort(records, 2000, CLASSES)
    assert now(standing(*tables, ThresholdsSection(sure_share=0)))["standing"] == "well covered"
    assert one["jackknife1"] == pytest.approx(5 + 3 * 5 / 6)
    assert one["sample_coverage"] == pytest.approx(1 - 3 / 11 * (5 * 3) / (5 * 3 + 2))


def test_part_covered_says_how_many_visits_are_needed(make_records) -> None:
    """Species on 1 (five times), 2 and 6 visits: 7 + 5/6 × 5 × 4 / 4 = 11.17; 75 % is 8.375, 1.375 more.

    Each further visit leaves 1 - 5 / (6 × 4.1667 + 5) = 0.8333 of 4.1667 unseen: log(1 - 1.375 / 4.1667) / log(0.8333)
    = 2.2 visits.
    """
    one = now(stand(make_records, visits([[1, 2], [1, 3], [1, 4], [1, 5, 7], [1, 6, 7], [1]])))
    assert one["standing"] == "part covered"
    assert one["visits_needed"] == 3
    assert one["next_1"] == pytest.approx(4.1667 * (1 - 0.8333), abs=1e-3)


def test_a_share_short_of_the_threshold_is_not_rounded_up_to_it(make_records) -> None:
    """38 of 51 known species found again is 74.5 %, which is not yet three quarters."""
    old = visits([list(range(100, 151))], year=1990)
    one = now(stand(make_records, old + visits([list(range(100, 138))] * 6)))
    assert one["standing"] == "part covered"
    assert one["reason"].endswith("38 of 51 species known from before found again (74 %).")


def test_well_covered_needs_three_quarters_of_the_known_species_again(make_records) -> None:
    old = visits([[11, 12, 13, 14, 15, 16]], year=1990)
    new = visits([[1, 2, 11, 12], [1, 2, 11, 12], [1, 2, 13], [1, 2, 13], [1, 2], [1, 2]])
    one = now(stand(make_records, old + new))
    assert one["refound_share"] == pytest.approx(0.5)
    assert (one["known_before"], one["to_refind"]) == (6, 3)
    assert one["share"] > 0.9
    assert one["standing"] == "part covered"
    assert "3 of 6 species known from before found again (50 %)." in one["reason"]


def test_gone_stale_with_and_without_new_records(make_records) -> None:
    old = visits([[11, 12, 13, 14, 15, 16]], year=1990)
    silent = now(stand(make_records, old))
    assert silent["standing"] == "gone stale"
    assert silent["reason"] == "6 species known from before, and no record in these dates."
    some = now(stand(make_records, old + visits([[1, 11]])))
    assert some["standing"] == "gone stale"
    assert some["reason"] == "Only 1 of 6 species known from before found again (17 %)."


def test_known_before_counts_records_that_ended_before_the_class_began(make_records) -> None:
    rows = [(species, 0, 0, 1000, "1950/1975", 0) for species in range(5)]
    assert now(stand(make_records, rows))["standing"] == "gone stale"


def test_cannot_say_when_dates_reach_beyond_the_class(make_records) -> None:
    one = now(stand(make_records, [(1, 0, 0, 1000, "1999/2003", 1)]))
    assert one["standing"] == "can't say"
    assert one["reason"] == "1 record may belong here, but the dates reach beyond these years."


def test_cannot_say_when_every_species_was_found_once(make_records) -> None:
    one = now(stand(make_records, visits([[2 * n, 2 * n + 1] for n in range(6)])))
    assert one["standing"] == "can't say"
    assert np.isnan(one["estimate"])
    assert np.isnan(one["visits_needed"])


def test_visits_that_found_no_species_cannot_say(make_records) -> None:
    """Six visits noted a genus only (species 9 does not count); four species are on a list of the year."""
    rows = visits([[9]] * 6) + [(species, 0, 0, 1000, "2010", 1) for species in (1, 2, 3, 4)]
    one = now(stand(make_records, rows, others=[9]))
    assert one["standing"] == "can't say"
    assert one["reason"] == (
        "6 visits found nothing that counts as a species: how many there are cannot be estimated. "
        "4 more species are known from records that lack their day."
    )


def test_lists_stand_in_where_days_are_not_known(make_records) -> None:
    rows = [(species, 0, 0, 1000, str(2001 + year), 1) for year in range(6) for species in (1, 2)]
    one = now(stand(make_records, rows))
    assert (one["units"], one["sampled"], one["standing"]) == ("lists", 6, "well covered")
    assert one["reason"].endswith("Lists stand in for visits, as most lack their day.")


def test_what_only_a_list_without_a_day_brought_is_not_what_the_visits_found(make_records) -> None:
    """Six visits found the same 4 species, a list of the year 20 others: the visits found 4 of at least 24, or 17 %.

    By hand; that visits are judged by what visits found is what an estimate from visits means (Chao, 1987).
    """
    rows = visits([[1, 2, 3, 4]] * 6) + [(species, 0, 0, 1000, "2010", 1) for species in range(11, 31)]
    one = now(stand(make_records, rows))
    assert (one["units"], one["species"], one["estimate"], one["standing"]) == ("visits", 24, 24, "begun")
    assert one["share"] == pytest.approx(4 / 24)
    assert np.isnan(one["visits_needed"])
    assert one["reason"] == (
        "6 visits found 4 species of at least 24 estimated to be there (17 %). "
        "20 more species are known from records that lack their day."
    )


def test_visits_needed_reach_the_share_of_all_that_is_known(make_records) -> None:
    """7 species on the visits, 11.17 estimated from them, 12 known: 9 are three quarters, 2 of 4.1667 unseen more.

    Each further visit leaves 0.8333 of them unseen: log(1 - 2 / 4.1667) / log(0.8333) = 3.6 visits.
    """
    rows = visits([[1, 2], [1, 3], [1, 4], [1, 5, 7], [1, 6, 7], [1]])
    rows += [(species, 0, 0, 1000, "2010", 1) for species in range(11, 16)]
    one = now(stand(make_records, rows))
    assert (one["species"], one["estimate"], one["visits_needed"]) == (12, 12, 4)
    assert one["share"] == pytest.approx(7 / 12)


def test_species_of_dates_too_wide_for_a_list_are_said_apart(make_records) -> None:
    rows = [*visits([[1, 2]] * 6), (3, 0, 0, 1000, "2001/2009", 1)]
    assert now(stand(make_records, rows))["reason"].endswith(
        "6 visits found 2 species of at least 3 estimated to be there (67 %). "
        "1 more species is known from records that lack their day."
    )


def test_thoroughly_covered_and_poor_is_told_from_its_neighbours(make_records) -> None:
    """Five squares with ten species on every one of six visits, and one with three."""
    rich = [row for square in range(5) for row in visits([list(range(10))] * 6, east=2000 * square)]
    poor = visits([[1, 2, 3]] * 6, east=10_000)
    frame = stand(make_records, rich + poor)
    words = frame[frame["date_class"] == 1]["standing"].tolist()
    assert words == ["well covered"] * 5 + ["thoroughly covered and poor"]
    assert "Well covered squares usually have 10: this one is poor, not a gap." in frame["reason"].tolist()[-1]
    few = stand(make_records, rich[: 6 * 10 * 3] + poor)
    assert few[few["date_class"] == 1]["standing"].tolist() == ["well covered"] * 4


def test_names_that_are_no_species_do_not_count(make_records) -> None:
    one = now(stand(make_records, visits([[1, 2, 9]] * 6), others=[9]))
    assert one["species"] == 2
    assert one["estimate"] == 2


def test_the_total_has_no_species_to_refind(make_records) -> None:
    frame = stand(make_records, visits([[1, 2, 3, 4, 5, 6]], year=1990) + visits([[1, 2]]))
    total = frame[frame["date_class"] == -1].iloc[0]
    assert (total["known_before"], total["to_refind"]) == (0, 0)
    assert np.isnan(total["refound_share"])


def test_thresholds_are_obeyed(make_records) -> None:
    records = make_records(visits([[1, 2], [1, 3], [1, 4], [1, 5], [1, 5], [1]]))  # 80 % of the estimate
    tables = tally(records, 2000, CLASSES), effort(records, 2000, CLASSES)
    strict = standing(*tables, ThresholdsSection(well_share=0.85, sure_share=0))
    assert now(strict)["standing"] == "part covered"
    assert now(standing(*tables, ThresholdsSection(part_share=0.85, well_share=0.88)))["standing"] == "begun"
    assert now(standing(*tables, ThresholdsSection(enough_visits=7)))["standing"] == "begun"


def test_near_misses_are_squares_a_visit_or_two_short(make_records) -> None:
    """Two visits short by the formula, and one far from well covered."""
    near = visits([[1, 2], [1, 3], [1, 4], [1, 7], [1, 6, 7], [1]])
    far = visits([[1, 2], [1, 3, 8], [1, 4, 9], [1, 5, 10], [1, 6, 11], [1, 12]], east=2000)
    frame = stand(make_records, near + far)
    misses = near_misses(frame[frame["date_class"] == 1], THRESHOLDS)
    assert misses["square"].tolist() == [frame["square"].min()]
    assert misses["visits_needed"].between(1, 2).all()


def test_empty(make_records) -> None:
    assert len(stand(make_records, [])) == 0
    assert len(near_misses(stand(make_records, []), THRESHOLDS)) == 0


def test_order_of_the_tally_does_not_matter(make_records) -> None:
    rows = visits([[11, 12, 13]], year=1990) + visits([[1, 2, 11], [1, 11], [2, 12]]) + visits([[5]], east=2000)
    records = make_records(rows)
    work = effort(records, 2000, CLASSES)
    counts = tally(records, 2000, CLASSES)
    shuffled = counts.sample(frac=1, random_state=3)
    pd.testing.assert_frame_equal(standing(counts, work, THRESHOLDS), standing(shuffled, work, THRESHOLDS))


def test_every_square_stands_in_one_of_the_words(make_records) -> None:
    rng = np.random.default_rng(11)
    rows = [
        (int(rng.integers(12)), 2000 * int(rng.integers(6)), 0, 1000,
         f"{rng.choice([1985, 1999, 2004, 2015])}-{rng.integers(1, 13):02d}-{rng.integers(1, 28):02d}", 1)
        for _ in range(600)
    ]
    frame = stand(make_records, rows)
    assert set(frame["standing"]) <= set(STANDINGS)
    assert (frame["reason"].str.len() > 10).all()
    known = frame.dropna(subset="estimate")
    assert (known["estimate_low"] <= known["estimate"]).all()
    assert (known["estimate"] <= known["estimate_high"]).all()
    assert (known["species"] <= known["estimate_low"] + 1e-9).all()
