"""Tables of the sorts people really send: each ends as records, or as one sentence that says what it seems to be.

What goes wrong with such tables is a fact of the trade: common practice, no source. References are read back by the
rule of the British National Grid (letters for 100 km, then easting and northing in equal digits).
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gapmap.errors import ColumnError
from gapmap.records.table import Records


def places(records: Records) -> list[list[int]]:
    found: list[list[int]] = (
        records.frame()[["easting", "northing", "precision_m"]].sort_values("easting").to_numpy().tolist()
    )
    return found


@pytest.mark.parametrize(
    "headers",
    [
        "Square,Easting,Northing",
        "Grid letters,Grid Ref E,Grid Ref N",
        "100km square,Eastings,Northings",
        "Zone,x,y",
        "Grid ref,East,North",
    ],
)
def test_a_reference_in_three_columns(read: Callable[..., Records], headers: str) -> None:
    records = read(f"Species,{headers}\nAglais io,NT,255,706\nPieris rapae,nt,27512,72934\n")
    assert places(records) == [[325_500, 670_600, 100], [327_512, 672_934, 1]]


def test_a_nought_that_a_spreadsheet_dropped(read: Callable[..., Records]) -> None:
    records = read("Species,Letters,Easting,Northing\nAglais io,NT,55,706\n")
    assert places(records) == [[305_500, 670_600, 100]]
    assert records.problems().query("code == 'nought in front'")["severity"].tolist() == ["note"]


def test_letters_beside_whole_coordinates(read: Callable[..., Records]) -> None:
    records = read("Species,Letters,Easting,Northing\nAglais io,NT,325500,670600\nAglais io,NS,325500,670600\n")
    assert places(records) == [[325_500, 670_600, 1]]
    assert "do not agree" in records.problems().query("row == 3")["sentence"].iloc[0]


@pytest.mark.parametrize("letters", ["", "N1", "NTT"])
def test_letters_that_are_none(read: Callable[..., Records], letters: str) -> None:
    records = read(f"Species,Letters,Easting,Northing\nAglais io,NT,255,706\nPieris rapae,{letters},255,706\n")
    assert records.files[["records", "problem_rows"]].to_numpy().tolist() == [[1, 1]]


@pytest.mark.parametrize("header", ["Long (°W)", "Longitude West", "Lon_W", "longitude [w]"])
def test_a_longitude_whose_header_says_west(read: Callable[..., Records], header: str) -> None:
    """55.95 N, 3.19 W is Edinburgh, in NT27; 3.19 E would be the North Sea."""
    for written in ("3.19", "-3.19", "3.19 W"):
        records = read(f"Species,Lat (°N),{header}\nAglais io,55.95,{written}\n")
        [[easting, northing, _]] = places(records)
        assert (easting // 10_000, northing // 10_000) == (32, 67)


@pytest.mark.parametrize("header", ["Longitude", "Longitude (WGS84)", "Long (°E)", "lon"])
def test_other_longitudes_stay_as_they_are(read: Callable[..., Records], header: str) -> None:
    [[easting, _, _]] = places(read(f"Species,Latitude,{header}\nAglais io,52.2,0.12\n"))
    assert easting // 10_000 == 54


def test_units_in_headers(read: Callable[..., Records]) -> None:
    records = read(
        "Species name (scientific);Easting (m);Northing (m);Accuracy [m];Date found (dd/mm/yyyy);No. of individuals\n"
        "Aglais io;325500;670600;100;12/05/1998;3\n",
        grid="british",
    )
    assert places(records) == [[325_500, 670_600, 141]]
    assert records.frame()["quantity"].tolist() == ["3"]
    assert str(records.frame()["date_from"][0].date()) == "1998-05-12"


def test_pasted_from_a_letter(read: Callable[..., Records]) -> None:
    """Hard spaces, curly quotation marks and hyphens that do not break, under a title."""
    records = read(
        "Butterflies seen on the walk, 12th May\r\n\r\nSpecies\tGrid\u00a0ref\tWho\tWhen\r\n"
        "\u201cPieris\u00a0rapae\u201d\tNT\u00a0205\u00a0738\tB.\u00a0Holt\t\u201913\u2013May\u20111998\r\n"
    )
    assert records.species["name"].tolist() == ["Pieris rapae"]
    assert records.people["names"].tolist() == ["", "B. Holt"]
    assert places(records) == [[320_500, 673_800, 100]]
    assert str(records.frame()["date_from"][0].date()) == "1998-05-13"


@pytest.mark.parametrize(
    ("content", "says", "names"),
    [
        ("Site,Grid ref,Date,Aglais io,Pieris rapae,Notes\nHill,NT2570,1998,3,x,\n", "a column for each species", "Aglais io, Pieris rapae"),
        ("Date,Grid ref,Peacock,Small White\n1998,NT2570,1,\n1999,NT2570,,4\n", "a column for each species", "Peacock"),
        ("Species,NT2570,NT2073\nAglais io,x,\nPieris rapae,,3\n", "a column for each square", "NT2570, NT2073"),
        ("Aglais io,NT255706,12/05/1998,A. Marsh\n", "no headers", "NT255706"),
        ('"Species,Grid ref,Date"\n"Aglais io,NT2570,1998"\n', "single cell", "Species,Grid ref,Date"),
        ("Species     Grid ref   Date\nAglais io   NT255706   1998\n", "kept apart by spaces", "Species Grid ref Date"),
        ("From: A. Marsh\n\nHello, I saw Aglais io at NT255706.\n", "everything stands in one column", "From"),
        ("Height,Weight\n1,2\n", "no column for the species", "Height, Weight"),
        ("Species,Height\nAglais io,2\n", "no column for the place", "Species, Height"),
    ],
)  # fmt: skip
def test_what_is_no_list_of_finds_says_what_it_seems(
    read: Callable[..., Records], content: str, says: str, names: str
) -> None:
    with pytest.raises(ColumnError) as caught:
        read(content)
    assert says in str(caught.value)
    assert names in (caught.value.found or "")
    assert caught.value.do


def test_a_column_for_each_year(read: Callable[..., Records]) -> None:
    records = read("Species,Grid ref,1996,1997\nAglais io,NT2570,3,\n")
    assert records.files["records"][0] == 1
    [problem] = records.problems().to_dict("records")
    assert "a column for each year (1996 to 1997)" in problem["sentence"]


@pytest.mark.parametrize("header", ["Location", "Coordinates", "GPS", "Lat/Long"])
@pytest.mark.parametrize("written", ["55.9486, -3.1999", "55.9486 -3.1999", "55.9486N 3.1999W", "55°56'55\"N 3°12'00\"W"])
def test_latitude_and_longitude_in_one_column(read: Callable[..., Records], header: str, written: str) -> None:
    """55.9486 N, 3.1999 W is Edinburgh Castle's neighbourhood, in NT2573."""
    records = read(f"Species;{header};Date\nAglais io;{written};1998\n")
    [[easting, northing, precision]] = places(records)
    assert (easting // 1000, northing // 1000) == (325, 673)
    assert 1 < precision < 50
    assert records.frame()["is_point"].all()


def test_pairs_beside_references(read: Callable[..., Records]) -> None:
    content = "Species;Grid ref\nAglais io;NT2573\nAglais io;55.9486, -3.1999\nAglais io;95.9, -3.2\n"
    records = read(content)
    assert records.files[["records", "problem_rows"]].to_numpy().tolist() == [[2, 1]]
    assert sorted(precision == 1000 for _, _, precision in places(records)) == [False, True]


@pytest.mark.parametrize("headers", ["D,M,Y", "dd,mm,yyyy", "DD,MM,YY"])
def test_a_date_under_initials(read: Callable[..., Records], headers: str) -> None:
    records = read(f"Species,Grid ref,{headers}\nAglais io,NT2573,12,5,1998\nAglais io,NT2574,,5,1998\n")
    frame = records.frame().sort_values("source_row")
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["1998-05-12", "1998-05-01"]
    assert frame["date_kind"].tolist() == ["day", "month"]


def test_initials_that_are_no_date(read: Callable[..., Records]) -> None:
    records = read("Species,x,y,d,m\nAglais io,325500,670600,7,8\n", grid="british")
    assert places(records) == [[325_500, 670_600, 100]]
    assert records.frame()["date_kind"].tolist() == ["unknown"]
