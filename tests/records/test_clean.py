"""From files to records and problems. Nothing is lost: every row is a record, a problem row or a duplicate."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
from shapely import box

from gapmap.columns import FILES, NO_SQUARE, PEOPLE, PROBLEMS, RECORDS, SPECIES
from gapmap.errors import ColumnError, FileError
from gapmap.grid.squares import place_in, unpack
from gapmap.records.clean import read_records, shown_names
from gapmap.records.problems import check_conservation
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings

HEAD = "Species,Grid ref,Date,Recorder\n"
GOOD = "Oniscus asellus,NT2776,12/05/1998,A. Marsh\n"


def test_a_night_over_two_days_makes_a_visit_and_a_longer_stay_a_list(read: Callable[..., Records]) -> None:
    """Counted by hand: the first four are each one night of one trap; three days are none, nor is a day give or take."""
    nights = ["11/12 May 2019", "13-14.v.2019", "2019-05-15/2019-05-16", "31/5/2019-1/6/2019"]
    others = ["18-20 May 2019", "c. 21/5/2019", "May 2019"]
    frame = read(HEAD + "".join(f"Oniscus asellus,NT2776,{when},A. Marsh\n" for when in (*nights, *others))).frame()
    assert frame["is_visit"].tolist() == [True] * len(nights) + [False] * len(others)
    assert frame["list_id"].nunique() == len(frame)


def test_an_everyday_name_stays_with_the_species_it_was_written_beside(read: Callable[..., Records]) -> None:
    """Oniscus is no "Common shiny woodlouse": its rows are uncertain of that; the white wagtail is not called pied."""
    rows = [
        ("Oniscus asellus", "Common shiny woodlouse"), ("Oniscus cf. asellus", "Common shiny woodlouse"),
        ("Oniscus", "Common shiny woodlouse"), ("Philoscia cf. muscorum", "Striped woodlouse"), ("Bombus", "a bumblebee"),
        ("Motacilla alba", "White wagtail"), ("Motacilla alba yarrellii", "Pied wagtail"),
        ("Motacilla alba yarrellii", "Pied wagtail"), ("Motacilla flava flavissima", "Yellow wagtail"),
    ]  # fmt: skip
    lines = [f"{name},{everyday},NT27,{year}" for year, (name, everyday) in enumerate(rows, start=2001)]
    species = read("\n".join(["species,common name,reference,date", *lines])).species
    assert dict(zip(species["name"], species["vernacular"], strict=True)) == {
        "Bombus": "a bumblebee", "Motacilla alba": "White wagtail", "Motacilla flava": "Yellow wagtail", "Oniscus": "",
        "Oniscus asellus": "Common shiny woodlouse", "Philoscia": "",
    }  # fmt: skip


def read_verdicts(folder: Path, *verdicts: str) -> Records:
    """One record in several files, each with its own verdict on it."""
    paths = [folder / f"{number}.csv" for number in range(1, len(verdicts) + 1)]
    for path, verdict in zip(paths, verdicts, strict=True):
        path.write_text(
            f"species,reference,date,recorder,status\nOniscus asellus,NT2776,12/5/1998,A. Marsh,{verdict}\n", encoding="utf-8"
        )
    return read_records(paths, Settings())


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("", "accepted", "accepted"),
        ("awaiting", "accepted", "accepted"),
        ("", "awaiting", "awaiting"),
        ("", "not accepted", "not accepted"),
        ("awaiting", "not accepted", "not accepted"),
    ],
)
def test_a_record_in_two_files_has_the_verdict_of_one(tmp_path: Path, one: str, other: str, expected: str) -> None:
    """In whatever order the files come; the row that nobody decided about is the copy."""
    for verdicts in ((one, other), (other, one)):
        records = read_verdicts(tmp_path, *verdicts)
        assert records.frame()["status"].tolist() == [expected]
        assert records.files["duplicates"].sum() == 1


def test_a_record_accepted_in_one_file_and_refused_in_another_counts_and_is_said(tmp_path: Path) -> None:
    records = read_verdicts(tmp_path, "rejected", "accepted", "")
    assert records.frame()["status"].tolist() == ["not accepted", "accepted"]
    said = records.problems()
    assert said.loc[said["code"] == "two verdicts", ["file", "row", "column", "sentence"]].to_numpy().tolist() == [
        ["1.csv", 2, "status", "The record is not accepted here, but it is in 2.csv, row 2, and is counted."]
    ]


def test_a_plain_file(read: Callable[..., Records]) -> None:
    records = read(HEAD + GOOD + "Philoscia muscorum,NT27,1999,\n")
    frame = RECORDS.check(records.frame())
    assert records.files.to_dict("records") == [
        {"file_id": 1, "file": "club.csv", "rows": 2, "records": 2, "problem_rows": 0, "duplicates": 0}
    ]
    assert frame[["record_id", "source_row", "easting", "northing", "precision_m"]].to_numpy().tolist() == [
        [1, 2, 327000, 676000, 1000],
        [2, 3, 320000, 670000, 10000],
    ]
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["1998-05-12", "1999-01-01"]
    assert frame["date_to"].dt.strftime("%Y-%m-%d").tolist() == ["1998-05-12", "1999-12-31"]
    assert frame["is_visit"].tolist() == [True, False]
    assert records.species["name"].tolist() == ["Oniscus asellus", "Philoscia muscorum"]
    assert records.people.loc[frame["people_id"], "size"].tolist() == [1, 0]
    assert records.system.name == "british"
    for table, made in (
        (FILES, records.files),
        (SPECIES, records.species),
        (PEOPLE, records.people),
        (PROBLEMS, records.problems()),
    ):
        table.check(made)


def test_every_row_that_is_no_record_is_a_problem_row_with_its_row_number(read: Callable[..., Records]) -> None:
    bad = [
        ",NT2776,1998,A",
        "Oniscus asellus,,1998,A",
        "Oniscus asellus,NT277,1998,A",
        "Oniscus asellus,NT2776,31/02/1998,A",
    ]
    records = read(HEAD + GOOD + "\n".join(bad) + "\n" + GOOD.replace("1998", "1999"))
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[6, 2, 4]]
    said = records.problems().query("severity == 'not a record'")
    assert said["row"].tolist() == [3, 4, 5, 6]
    assert said["column"].tolist() == ["Species", "Grid ref", "Grid ref", "Date"]
    assert said["value"].tolist() == ["", "", "NT277", "31/02/1998"]
    assert (said["sentence"].str.len() > 10).all()
    assert records.frame()["source_row"].tolist() == [2, 7]


def test_all_problems_of_a_row_are_said(read: Callable[..., Records]) -> None:
    records = read(HEAD + GOOD + ",XX99999,99/99/1999,\n")
    assert set(records.problems().query("row == 3")["column"]) == {"Species", "Grid ref", "Date"}
    assert records.files["problem_rows"].tolist() == [1]


def test_problems_stand_in_the_order_of_files_and_rows(tmp_path: Path) -> None:
    for name in ("b.csv", "a.csv"):
        (tmp_path / name).write_text(HEAD + GOOD + ",NT27,1998,\n" + GOOD + "Oniscus asellus,,1998,\n")
    records = read_records([tmp_path / "b.csv", tmp_path / "a.csv"], Settings())
    said = records.problems().query("severity == 'not a record'")
    assert list(zip(said["file"], said["row"], strict=True)) == [("b.csv", 3), ("b.csv", 5), ("a.csv", 3), ("a.csv", 5)]


def test_row_numbers_are_those_a_spreadsheet_shows(read: Callable[..., Records]) -> None:
    text = "My club\n\n" + HEAD + GOOD + '\n"Philoscia\nmuscorum",NT27,1998,\n,,,\n,NT27,1999,\n'
    records = read(text)
    assert records.frame()["source_row"].tolist() == [4, 6]
    assert records.problems().query("severity == 'not a record'")["row"].tolist() == [8]
    assert records.files["rows"].tolist() == [3]


def test_rows_blank_but_for_a_column_nobody_asked_for_are_not_lost(read: Callable[..., Records]) -> None:
    records = read("Species,Grid ref,Date,Colour\nOniscus asellus,NT27,1998,\n,,,blue\n,,,\n")
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[2, 1, 1]]


def test_many_alike_doubts_are_said_once(read: Callable[..., Records]) -> None:
    records = read(HEAD + "".join(f"Oniscus asellus,NT{20 + i % 70}76,,A. Marsh\n" for i in range(500)))
    said = records.problems().query("code == 'no date'")
    assert said["row"].tolist() == [0]
    assert "500 rows alike" in said["sentence"].item()
    assert records.files["records"].tolist() == [500]
    assert records.kinds_of_problems().to_numpy().tolist() == [["note", "no date", 500]]


def test_several_files_share_species_people_and_numbering(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(HEAD + GOOD)
    (tmp_path / "b.tsv").write_text("taxon\tsquare\tyear\tobserver\nOniscus asellus\tNT2876\t2001\tA. Marsh\n")
    records = read_records([tmp_path / "a.csv", tmp_path / "b.tsv"], Settings())
    frame = records.frame()
    assert frame["record_id"].tolist() == [1, 2]
    assert frame["file_id"].tolist() == [1, 2]
    assert frame["species_id"].nunique() == 1
    assert frame["people_id"].nunique() == 1


def test_one_unreadable_file_among_several_is_a_problem_and_the_rest_goes_on(tmp_path: Path) -> None:
    (tmp_path / "good.csv").write_text(HEAD + GOOD)
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "other.csv").write_text("colour,size\nblue,3\n")
    records = read_records([tmp_path / n for n in ("empty.csv", "good.csv", "other.csv", "gone.csv")], Settings())
    said = records.problems().query("row == 0 and code == 'unreadable file'")
    assert said["file"].tolist() == ["empty.csv", "other.csv", "gone.csv"]
    assert records.files["records"].tolist() == [0, 1, 0, 0]


def test_no_readable_file_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("")
    with pytest.raises(FileError, match=r"empty\.csv is empty"):
        read_records([tmp_path / "empty.csv"], Settings())
    with pytest.raises(FileError, match="no files"):
        read_records([], Settings())
    (tmp_path / "other.csv").write_text("colour,size\nblue,3\n")
    with pytest.raises(ColumnError, match="colour, size"):
        read_records([tmp_path / "other.csv"], Settings())


def test_a_header_without_rows_is_a_file_of_no_rows(read: Callable[..., Records]) -> None:
    records = read(HEAD)
    assert records.files[["rows", "records", "problem_rows", "duplicates"]].to_numpy().tolist() == [[0, 0, 0, 0]]
    assert RECORDS.check(records.frame()).empty
    assert records.species.empty


def test_columns_can_be_named(read: Callable[..., Records]) -> None:
    records = read("a,b,c\nOniscus asellus,NT27,1998\n", columns={"species": "a", "reference": "b", "date": "c"})
    assert records.files["records"].tolist() == [1]


def test_files_of_one_name_are_told_apart() -> None:
    assert shown_names([Path("x/a.csv"), Path("y/a.csv"), Path("y/b.csv")]) == ["x/a.csv", "y/a.csv", "b.csv"]


def test_latitude_and_longitude_become_points_as_wide_as_their_uncertainty(read: Callable[..., Records]) -> None:
    # 707 m around a point reaches the corners of a monad (707 m × √2 = 1000 m).
    records = read(
        "species,lat,lon,accuracy (m)\nOniscus asellus,55.9486,-3.1999,707\nOniscus asellus,55.9486,-3.1999,x\n"
    )
    frame = records.frame()
    assert frame["system"].tolist() == [1, 1]
    assert frame["is_point"].all()
    assert frame["precision_m"].tolist() == [1000, 12]
    assert records.problems().query("code == 'uncertainty'")["row"].tolist() == [3]
    # Edinburgh Castle stands in the hectad NT27 (the map of the place; common practice, no source).
    assert (frame["easting"] // 10_000).tolist() == [32, 32]
    assert (frame["northing"] // 10_000).tolist() == [67, 67]


def test_an_uncertainty_in_kilometres_is_known_by_its_header(read: Callable[..., Records]) -> None:
    records = read("species,lat,lon,uncertainty (km)\nOniscus asellus,55.9486,-3.1999,0.707\n")
    assert records.frame()["precision_m"].tolist() == [1000]


@pytest.mark.parametrize(
    ("lat", "lon"), [("x", "-3"), ("95", "-3"), ("55", "-183"), ("0", "0"), ("55", ""), ("-3.2", "55.9")]
)
def test_coordinates_that_cannot_be(read: Callable[..., Records], lat: Any, lon: Any) -> None:
    records = read(f"species,lat,lon\nOniscus asellus,55.9486,-3.1999\nOniscus asellus,{lat},{lon}\n", grid="british")
    assert records.files["problem_rows"].tolist() == [1]


def test_a_reference_comes_before_coordinates_and_coordinates_fill_in(read: Callable[..., Records]) -> None:
    records = read(
        "species,grid ref,lat,lon\nOniscus asellus,NT27,55.9,-3.2\n"
        "Oniscus asellus,,55.9486,-3.1999\nOniscus asellus,,,\n"
    )
    frame = records.frame()
    assert frame["is_point"].tolist() == [False, True]
    assert frame["precision_m"].tolist()[0] == 10_000
    assert records.files["problem_rows"].tolist() == [1]
    assert len(records.problems().query("row == 4 and severity == 'not a record'")) == 1


def test_easting_and_northing_need_their_grid(read: Callable[..., Records]) -> None:
    text = "species,easting,northing\nOniscus asellus,325400,673400\nOniscus asellus,325500,673401\n"
    with pytest.raises(ColumnError, match="not in which grid"):
        read(text)
    frame = read(text, grid="british").frame()
    assert frame["easting"].tolist() == [325400, 325500]
    assert frame["is_point"].all()


def test_eastings_written_to_the_kilometre_are_monads(read: Callable[..., Records]) -> None:
    frame = read(
        "species,easting,northing\nOniscus asellus,325000,673000\nOniscus asellus,326000,670000\n", grid="british"
    ).frame()
    assert frame["precision_m"].tolist() == [1000, 1000]
    assert not frame["is_point"].any()


def test_records_of_another_grid_are_brought_over_as_points(read: Callable[..., Records]) -> None:
    records = read(HEAD + GOOD + GOOD.replace("2776", "2876") + "Oniscus asellus,J3374,1998,\n")
    frame = records.frame()
    assert records.system.name == "british"
    assert frame["system"].tolist() == [1, 1, 1]
    assert frame["is_point"].tolist() == [False, False, True]
    assert frame["precision_m"].tolist() == [1000, 1000, 1414]
    assert "1 record given in the Irish Grid was brought into the British National Grid as a point." in records.remarks[0]


def test_zones_of_utm_stand_side_by_side(read: Callable[..., Records]) -> None:
    records = read(
        "species,utm,year\nAdalia bipunctata,31UFS85,2001\n"
        "Adalia bipunctata,31UFS86,2001\nAdalia bipunctata,32UKB95,2001\n",
        grid="utm",
    )
    assert records.system.key == 131
    assert records.frame()["system"].tolist() == [131, 131, 132]
    assert records.remarks == ()


def test_conservation_is_asserted() -> None:
    frame = pd.DataFrame([(1, "a.csv", 3, 1, 1, 0)], columns=FILES.names)
    with pytest.raises(Exception, match="rows were lost"):
        check_conservation(frame)


def test_the_same_answer_twice(read: Callable[..., Records]) -> None:
    text = HEAD + "".join(
        f"Oniscus asellus,NT{20 + i % 60}{10 + i % 80},{1950 + i % 60},A. Marsh\n" for i in range(2000)
    )
    first, second = read(text), read(text)
    pd.testing.assert_frame_equal(first.frame(), second.frame())
    pd.testing.assert_frame_equal(first.problems(), second.problems())


def test_lists_are_the_same_place_day_and_people(read: Callable[..., Records]) -> None:
    rows = [
        "NT2776,12/05/1998,A. Marsh",
        "NT2776,12/05/1998,A. Marsh",
        "NT2776,13/05/1998,A. Marsh",
        "NT27,12/05/1998,A. Marsh",
        "NT2776,12/05/1998,B. Holt",
        "NT2776,1990-1999,A. Marsh",
    ]
    names = [
        "Oniscus asellus",
        "Philoscia muscorum",
        "Oniscus asellus",
        "Ligia oceanica",
        "Oniscus asellus",
        "Oniscus asellus",
    ]
    frame = read(HEAD + "".join(f"{n},{r}\n" for n, r in zip(names, rows, strict=True))).frame()
    lists = frame["list_id"].tolist()
    assert lists[0] == lists[1]
    assert len(set(lists[1:5])) == 4
    assert lists[5] == -1


@pytest.mark.open_data
def test_edinburgh_has_no_unexplained_rows(open_data: Path) -> None:
    # Counts published with the data: 25,684 rows, 888 hectads, 1,793 tetrads, 11,867 monads, 11,136 of 100 m.
    records = read_records([open_data / "edinburgh_2000_2016.csv"], Settings())
    files = records.files.iloc[0]
    assert files["rows"] == 25_684
    assert files["records"] + files["problem_rows"] + files["duplicates"] == 25_684
    assert files["problem_rows"] == 0
    frame = records.frame("source_row, system, easting, northing, precision_m, is_point")
    assert frame["precision_m"].value_counts().to_dict() == {1000: 11_867, 100: 11_136, 2000: 1_793, 10_000: 888}
    squares = place_in(
        frame["system"], frame["easting"], frame["northing"], frame["precision_m"], frame["is_point"], 2000
    )
    assert (squares[frame["precision_m"] == 10_000] == NO_SQUARE).all()
    tetrads = (frame["precision_m"] == 2_000).to_numpy()
    written = pd.read_csv(open_data / "edinburgh_2000_2016.csv", dtype=str)["gridReference"]
    letters = written[frame["source_row"] - 2].to_numpy()[tetrads]
    # The DINTY order of the letters (common practice, no source), written out here by hand.
    dinty = ["EJPUZ", "DINTY", "CHMSX", "BGLRW", "AFKQV"]
    corner = {
        letter: (2000 * column, 2000 * (4 - row))
        for row, line in enumerate(dinty)
        for column, letter in enumerate(line)
    }
    hundreds = {"NT": (300_000, 600_000), "NO": (300_000, 700_000), "NS": (200_000, 600_000)}
    east = [hundreds[r[:2]][0] + int(r[2]) * 10_000 + corner[r[4]][0] for r in letters]
    north = [hundreds[r[:2]][1] + int(r[3]) * 10_000 + corner[r[4]][1] for r in letters]
    _, side, easting, northing = unpack(squares[tetrads])
    np.testing.assert_array_equal(side, 2000)
    np.testing.assert_array_equal(easting, east)
    np.testing.assert_array_equal(northing, north)


@pytest.mark.open_data
def test_ladybirds_have_no_unexplained_rows(open_data: Path) -> None:
    area = AreaSection(grid="utm", zones=("31U", "32U"))
    records = read_records([open_data / "be_ladybirds_utm1km.csv"], Settings(area=area))
    files = records.files.iloc[0]
    assert files[["rows", "records", "problem_rows", "duplicates"]].tolist() == [92_805, 92_805, 0, 0]
    frame = records.frame("source_row, system, easting, northing, precision_m")
    assert frame[["system", "easting", "northing"]].drop_duplicates().shape[0] == 13_067
    assert set(frame["precision_m"]) == {1000}
    # The file's own centre latitudes and longitudes, carried to UTM by pyproj, must fall in the squares named.
    written = pd.read_csv(open_data / "be_ladybirds_utm1km.csv").iloc[frame["source_row"] - 2]
    for key in (131, 132):
        own = (frame["system"] == key).to_numpy()
        transformer = pyproj.Transformer.from_crs(4326, 32600 + key - 100, always_xy=True)
        east, north = transformer.transform(written["long"].to_numpy()[own], written["lat"].to_numpy()[own])
        assert np.abs(east - frame["easting"][own] - 500).max() < 1000
        assert np.abs(north - frame["northing"][own] - 500).max() < 1000


def test_a_first_of_january_too_often_is_only_its_year(read: Callable[..., Records]) -> None:
    rows = [f"Oniscus asellus,NT{20 + i}76,01/01/{1980 + i},A. Marsh\n" for i in range(20)]
    rows += [f"Oniscus asellus,NT{20 + i}76,12/05/{1980 + i},A. Marsh\n" for i in range(20)]
    records = read(HEAD + "".join(rows))
    assert records.frame()["date_kind"].tolist() == ["year"] * 20 + ["day"] * 20
    assert records.frame()["date_to"].dt.month.tolist()[:20] == [12] * 20
    assert records.problems().query("code == '1 January'")["row"].tolist() == [0]


def test_coordinates_that_do_not_lie_in_the_reference_beside_them_are_a_doubt(read: Callable[..., Records]) -> None:
    # The reference NT2573 holds Edinburgh Castle (the map of the place; common practice, no source).
    records = read(
        "species,grid ref,lat,lon\nOniscus asellus,NT2573,55.9486,-3.1999\nOniscus asellus,NT2573,56.9486,-3.1999\n"
    )
    assert records.problems().query("code == 'places disagree'")["row"].tolist() == [3]
    assert records.files["records"].tolist() == [2]


def test_a_record_outside_the_boundary_of_the_area_is_a_doubt(tmp_path: Path) -> None:
    (tmp_path / "club.csv").write_text(HEAD + GOOD + GOOD.replace("NT2776", "NY2776"))
    boundary = gpd.GeoDataFrame(geometry=[box(320_000, 670_000, 330_000, 680_000)], crs=27700)
    boundary.to_file(tmp_path / "edge.gpkg")
    chosen = Settings(area=AreaSection(boundary="edge.gpkg"))
    for _ in range(2):  # once read, once from the cache
        records = read_records([tmp_path / "club.csv"], chosen, folder=tmp_path)
        said = records.problems().query("severity == 'doubt'")
        assert said[["row", "column", "value"]].to_numpy().tolist() == [[3, "Grid ref", "NY2776"]]
        assert records.files["records"].tolist() == [2]


def test_a_file_that_gives_nothing_is_said_aloud(tmp_path: Path) -> None:
    (tmp_path / "good.csv").write_text("Species,Grid ref,Date\nOniscus asellus,NT2776,1998\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "twice.csv").write_text("Species,Species,Grid ref\nOniscus asellus,Ligia oceanica,NT27\n")
    records = read_records([tmp_path / name for name in ("good.csv", "empty.csv", "twice.csv")], Settings())
    assert records.remarks == (
        "empty.csv is empty. Ask for the file again.",
        "twice.csv: more than one column could be the species. Found: Species (column 1) and Species (column 2). Give each column its own header in a copy of the file.",
    )


def test_only_the_rarer_of_two_spellings_is_shown(read: Callable[..., Records]) -> None:
    rows = ["Oniscus asellus"] * 6 + ["Oniscus assellus"]
    text = "".join(f"{name},NT27{place}6,1998\n" for place, name in enumerate(rows, start=1))
    problems = read("Species,Grid ref,Date\n" + text).problems().query("code == 'names alike'")
    assert problems["value"].tolist() == ["Oniscus assellus"]


@pytest.mark.parametrize("cell", ['=HYPERLINK("http://x")', "@SUM(A1)", "http://example.org"])
def test_a_formula_is_no_species(read: Callable[..., Records], cell: Any) -> None:
    quoted = '"' + cell.replace('"', '""') + '"'
    records = read(f"Species,Grid ref,Date\n{quoted},NT2776,1998\nOniscus asellus,NT2776,1998\n")
    assert records.species["name"].tolist() == ["Oniscus asellus"]
    assert records.problems()["code"].tolist() == ["no species"]


@pytest.mark.parametrize("space", ["\u00a0", "\u2003", "\x0c", "\x1f", " \u00a0 "])
@pytest.mark.parametrize("quote", ["", '"'])
def test_a_cell_of_hard_spaces_is_an_empty_one(tmp_path: Path, space: str, quote: str) -> None:
    """Whole columns at a time and line by line: no species in row 2, the everyday name in row 3, no reference in row 4."""
    blank = f"{quote}{space}{quote}"
    path = tmp_path / "a.csv"
    path.write_text(
        "species,vernacular,gridref,latitude,longitude,date\n"
        f"{blank},{blank},NT2573,,,2001-05-12\n{blank},Robin,NT2573,,,2001-05-12\n"
        f"Aglais io,,{blank},55.95,-3.19,2001-05-13\n{blank},{blank},{blank},{blank},{blank},{blank}\n",
        encoding="utf-8",
    )
    records = read_records([path], Settings())
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[3, 2, 1]]
    assert records.frame()["source_row"].tolist() == [3, 4]
    assert records.problems().query("severity == 'not a record'")[["row", "code"]].to_numpy().tolist() == [[2, "no species"]]


@pytest.mark.parametrize(("said", "records"), [("present", 1), ("absent", 0), ("Not detected", 0), ("", 1), ("FALSE", 0)])
def test_a_row_that_says_absent_is_no_record(tmp_path: Path, said: str, records: int) -> None:
    """dwc:occurrenceStatus (Darwin Core quick reference guide): "a statement about the presence or absence of a Taxon"."""
    path = tmp_path / "a.csv"
    path.write_text(
        f"scientificName,gridReference,eventDate,occurrenceStatus\nAglais io,NT2573,2001-05-12,{said}\nAglais io,NT2673,2001-05-12,present\n"
    )
    found = read_records([path], Settings())
    assert found.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[2, 1 + records, 1 - records]]
    assert found.problems()["code"].tolist() == ["none found"] * (1 - records)


def test_a_place_is_one_place_with_blanks_around_it_or_without(read: Callable[..., Records]) -> None:
    rows = "".join(f"Oniscus asellus,NT2776,{day}/05/1998,{place},{who}\n" for day, place, who in ((1, "Loch", "B. Holt"), (2, " Loch ", " B. Holt")))
    frame = read(f"Species,Grid ref,Date,Place,Identified by\n{rows}").frame()
    assert frame["place"].tolist() == ["Loch", "Loch"]
    assert frame["identified_by"].tolist() == ["B. Holt", "B. Holt"]
