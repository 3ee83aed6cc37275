"""Duplicates, drawn by hand: each case is a few rows and the answer one would give with a pencil."""

from __future__ import annotations

import duckdb
import pandas as pd

from gapmap.records.duplicates import find_duplicates

DAY = "2001-05-12"


def row(**changes: object) -> dict[str, object]:
    """A record of species 7 by people 3 on a day in a 100 m square."""
    usual: dict[str, object] = {
        "file_id": 1, "species_id": 7, "system": 1, "easting": 304_200, "northing": 601_100, "precision_m": 100,
        "is_point": False, "date_from": DAY, "date_to": DAY, "date_kind": "day", "people_id": 3, "stage": "", "sex": "",
        "quantity": "", "place": "", "status": "",
    }  # fmt: skip
    return usual | changes


def hectad(**changes: object) -> dict[str, object]:
    return row(easting=300_000, northing=600_000, precision_m=10_000, **changes)


def year(**changes: object) -> dict[str, object]:
    return row(date_from="2001-01-01", date_to="2001-12-31", date_kind="year", **changes)


def duplicates(*rows: dict[str, object]) -> dict[int, tuple[int, str]]:
    frame = pd.DataFrame(rows)
    frame.insert(0, "candidate_id", range(1, len(frame) + 1))
    for name in ("date_from", "date_to"):
        frame[name] = pd.to_datetime(frame[name])
    connection = duckdb.connect()
    connection.register("seen", frame)
    connection.execute(
        "create table candidates as select * replace (date_from::date as date_from, date_to::date as date_to) from seen"
    )
    table = find_duplicates(connection, "candidates")
    found = connection.execute(f"select candidate_id, kept_id, code from {table}").fetchall()
    assert len({candidate for candidate, _, _ in found}) == len(found)
    assert not {kept for _, kept, _ in found} & {candidate for candidate, _, _ in found}
    return {candidate: (kept, code) for candidate, kept, code in found}


def test_the_same_row_in_two_files_counts_once() -> None:
    assert duplicates(row(), row(file_id=2), row(file_id=3)) == {2: (1, "duplicate"), 3: (1, "duplicate")}


def test_the_same_row_twice_in_a_file_counts_once_when_day_and_people_are_known() -> None:
    assert duplicates(row(), row()) == {2: (1, "duplicate")}
    assert duplicates(row(people_id=0), row(people_id=0)) == {}
    assert duplicates(year(), year()) == {}


def test_a_night_over_two_days_is_as_well_known_as_a_day() -> None:
    night = {"date_to": "2001-05-13", "date_kind": "days"}
    assert duplicates(row(**night), row(**night)) == {2: (1, "duplicate")}
    assert duplicates(hectad(**night), row(**night)) == {1: (2, "nested duplicate")}
    assert duplicates(hectad(**night), row()) == {}


def test_a_verdict_of_another_file_holds_for_a_row_that_nobody_decided_about() -> None:
    """The club's own file and the copy the verifier sent back: what was refused there is not counted here."""
    refused = row(file_id=2, status="not accepted")
    assert duplicates(row(), refused) == {1: (2, "duplicate")}
    assert duplicates(row(status="awaiting"), refused, row(file_id=3)) == {1: (2, "duplicate"), 3: (2, "duplicate")}
    assert duplicates(row(), row(status="not accepted")) == {}, "one of two rows of a file is often refused as repeated"
    assert duplicates(row(status="accepted"), refused) == {}
    assert duplicates(row(), row(file_id=2), refused) == {2: (1, "duplicate")}, "refused there as repeated"
    assert duplicates(row(), refused, row(file_id=3, status="accepted")) == {3: (1, "duplicate")}
    assert duplicates(row(), refused, row(file_id=2, status="accepted")) == {3: (1, "duplicate")}
    assert duplicates(row(place="quarry"), row(place="mill"), row(file_id=2, status="not accepted", place="mill")) == {
        2: (3, "duplicate")
    }
    assert duplicates(year(), year(file_id=2, status="not accepted")) == {}


def test_a_file_sent_twice_counts_as_often_as_one_of_them() -> None:
    """Two finds of a year without a name may be two finds; the copy of the file has both again."""
    two = [year(people_id=0), year(people_id=0)]
    copied = [{**each, "file_id": 2} for each in two]
    assert duplicates(*two, *copied) == {3: (1, "duplicate"), 4: (2, "duplicate")}
    assert duplicates(*two, *copied, copied[0]) == {3: (1, "duplicate"), 4: (2, "duplicate")}


def test_without_date_and_people_nothing_can_be_said() -> None:
    unknown = row(date_from=None, date_to=None, date_kind="unknown", people_id=0)
    assert duplicates(unknown, {**unknown, "file_id": 2}) == {}


def test_any_difference_makes_two_records() -> None:
    for change in (
        {"species_id": 8}, {"easting": 304_300}, {"people_id": 4}, {"stage": "larva"}, {"sex": "male"},
        {"quantity": "5"}, {"date_from": "2001-05-13", "date_to": "2001-05-13"},
    ):  # fmt: skip
        assert duplicates(row(), row(file_id=2, **change)) == {}, change


def test_a_coarser_place_around_a_finer_one_keeps_the_finer() -> None:
    assert duplicates(hectad(), row()) == {1: (2, "nested duplicate")}
    assert duplicates(row(), hectad(file_id=2)) == {2: (1, "nested duplicate")}


def test_nests_three_deep_keep_the_finest() -> None:
    monad = row(easting=304_000, northing=601_000, precision_m=1_000)
    assert duplicates(hectad(), monad, row()) == {1: (3, "nested duplicate"), 2: (3, "nested duplicate")}


def test_a_nest_is_the_same_day_people_and_square() -> None:
    assert duplicates(hectad(people_id=4), row()) == {}
    assert duplicates(hectad(date_from="2001-05-13", date_to="2001-05-13"), row()) == {}
    assert duplicates(row(easting=310_000, northing=600_000, precision_m=10_000), row()) == {}
    assert duplicates(year(easting=300_000, northing=600_000, precision_m=10_000), year()) == {}


def test_a_coarser_row_that_says_more_is_kept() -> None:
    assert duplicates(hectad(quantity="5"), row()) == {}
    assert duplicates(hectad(quantity="5"), row(quantity="5")) == {1: (2, "nested duplicate")}
    assert duplicates(hectad(), row(quantity="5")) == {1: (2, "nested duplicate")}


def test_a_point_lies_in_a_square_but_holds_none() -> None:
    point = row(easting=304_251, northing=601_187, precision_m=8, is_point=True)
    assert duplicates(hectad(), point) == {1: (2, "nested duplicate")}
    assert duplicates(row(is_point=True, precision_m=10_000), row()) == {}


def test_exact_and_nested_together() -> None:
    assert duplicates(hectad(), row(), row(file_id=2), hectad(file_id=2)) == {
        1: (2, "nested duplicate"), 3: (2, "duplicate"), 4: (2, "duplicate"),
    }  # fmt: skip


def test_a_rejected_row_does_not_stand_for_an_accepted_one() -> None:
    rejected, accepted = row(status="not accepted"), row(file_id=2, status="accepted")
    assert duplicates(rejected, accepted) == {}
    assert duplicates(accepted, {**rejected, "file_id": 3}, row(file_id=4)) == {3: (1, "duplicate")}
    assert duplicates(rejected, {**rejected, "file_id": 2}) == {2: (1, "duplicate")}


def test_a_rejected_finer_row_does_not_stand_for_an_accepted_coarser_one() -> None:
    assert duplicates(hectad(status="accepted"), row(status="not accepted")) == {}
    assert duplicates(hectad(status="not accepted"), row(status="accepted")) == {}
    assert duplicates(hectad(status="awaiting"), row(status="accepted")) == {1: (2, "nested duplicate")}


def test_two_places_in_one_file_are_two_records() -> None:
    two = [row(place="Loch A"), row(place="Loch B")]
    assert duplicates(*two) == {}
    assert duplicates(*two, row(), row(place="loch b")) == {3: (1, "duplicate"), 4: (2, "duplicate")}
    assert duplicates(*two, *({**each, "file_id": 2} for each in two)) == {3: (1, "duplicate"), 4: (2, "duplicate")}
    assert duplicates(row(place="Loch A"), row(place="Loch B", file_id=2)) == {2: (1, "duplicate")}
    assert duplicates(hectad(place="Loch A"), row(place="Loch B")) == {}
    assert duplicates(hectad(place="Loch A"), row(place="Loch B", file_id=2)) == {1: (2, "nested duplicate")}


def test_no_rows() -> None:
    connection = duckdb.connect()
    frame = pd.DataFrame([row()]).assign(candidate_id=1)
    connection.register("seen", frame)
    connection.execute("create table candidates as select * from seen where false")
    table = find_duplicates(connection, "candidates")
    assert connection.execute(f"select count(*) from {table}").fetchone() == (0,)
