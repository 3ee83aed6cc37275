"""Commands as people give them: what they write, what they print, and one sentence for what goes wrong."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import rasterio

from gapmap.outputs.page.read import page_to_columns

Rows = list[list[str]]
Run = Callable[..., tuple[int, str, str]]
CLASSES = "-1999, 2000-2014, 2015-"


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_coverage_of_a_file_writes_everything_and_says_what_happened(
    gapmap: Run, records_file: Path, tmp_path: Path, small_rows: Rows
) -> None:
    code, out, err = gapmap(
        "coverage", records_file, "--square", "2km", "--classes", CLASSES, "--out", tmp_path / "maps"
    )
    assert (code, err) == (0, "")
    said = {name.strip(): value for name, value in re.findall(r"^  (.+?)  +(\S.*)$", out, re.MULTILINE)}
    rows = len(small_rows) - 1
    assert said["rows read"] == str(rows)
    assert said["records kept"] == str(rows - 2), "an odd number of digits and the 31st of February are no records"
    assert said["too coarse for 2 km squares"] == "1"
    assert said["records in no one date class"] == "1", "1990/2005"
    assert said["squares"] == "6"
    assert said["species"] == "5"
    made = {path.name for path in (tmp_path / "maps").iterdir()}
    assert {"coverage.html", "squares.csv", "squares.gpkg", "squares.xlsx", "problems.csv", "effort.tif"} <= made


def test_squares_csv_counts_what_can_be_counted_by_hand(
    gapmap: Run, records_file: Path, tmp_path: Path, small_rows: Rows
) -> None:
    gapmap("coverage", records_file, "--square", "2km", "--classes", CLASSES, "--out", tmp_path)
    table = {(row["square"], row["date_class"]): row for row in rows_of(tmp_path / "squares.csv")}
    assert {label for _, label in table} == {"all", "to 1999", "2000–2014", "from 2015"}
    plain = [row for row in small_rows[1:] if re.fullmatch(r"\d\d/\d\d/\d{4}", row[2]) and row[1] == "OR47B"]
    in_class = [row for row in plain if int(row[2][-4:]) >= 2015]
    now = table["OR47B", "from 2015"]
    assert int(now["records"]) == len(in_class)
    assert int(now["species"]) == len({row[0] for row in in_class})
    assert int(now["visits"]) == len({(row[2], row[3]) for row in in_class})
    assert int(table["OR47B", "all"]["records"]) == len(plain) + 1, (
        "the record that crosses classes counts in the total"
    )
    assert (now["easting"], now["northing"], now["side_m"]) == ("640000", "672000", "2000"), (
        "OR begins 600 km east and 600 km north of the false origin; OR47 40 and 70 km on; tetrad B 2 km north"
    )


def test_layers_open_elsewhere_with_the_right_reference_system(gapmap: Run, records_file: Path, tmp_path: Path) -> None:
    gapmap("coverage", records_file, "--square", "2km", "--classes", CLASSES, "--out", tmp_path)
    layers = gpd.list_layers(tmp_path / "squares.gpkg")["name"].tolist()
    assert len(layers) == 4
    squares = gpd.read_file(tmp_path / "squares.gpkg", layer=layers[0])
    assert squares.crs.to_epsg() == 27700
    assert squares.geometry.area.round().eq(4_000_000).all()
    with rasterio.open(tmp_path / "effort.tif") as raster:
        assert raster.crs.to_epsg() == 27700
        assert raster.count == 4


def test_problems_name_file_row_and_what_to_do(
    gapmap: Run, records_file: Path, tmp_path: Path, small_rows: Rows
) -> None:
    gapmap("check", records_file, "--out", tmp_path)
    problems = [row for row in rows_of(tmp_path / "problems.csv") if row["severity"] == "not a record"]
    rows = small_rows
    assert {int(row["row"]) for row in problems} == {
        1 + number for number, row in enumerate(rows) if row[1] == "OR4" or row[2] == "31/02/1998"
    }
    assert all(row["file"] == records_file.name and row["sentence"] for row in problems)
    book = pd.read_excel(tmp_path / "problems.xlsx", sheet_name=None, engine="openpyxl")
    assert set(book) == {"by file", "by recorder", "small records.csv"}


def test_date_classes_are_chosen_and_said(gapmap: Run, records_file: Path, tmp_path: Path) -> None:
    code, out, _ = gapmap("coverage", records_file, "--out", tmp_path)
    assert code == 0
    assert "the date classes were chosen from the records" in out


def test_area_folder_from_start_to_story(gapmap: Run, area_folder: Path) -> None:
    original = (area_folder / "records" / "small records.csv").read_bytes()
    assert gapmap("coverage", area_folder)[0] == 0
    assert (area_folder / "maps" / "coverage.html").exists()
    code, out, _ = gapmap("square", "OR47B", area_folder)
    assert code == 0
    assert out.startswith("OR47B, a square of 2 km")
    assert (area_folder / "records" / "small records.csv").read_bytes() == original


def test_a_square_is_named_in_any_usual_way(gapmap: Run, area_folder: Path) -> None:
    """Common practice, no source: OR4173 and OR405725 lie in the tetrad OR47B; a hectad is no one tetrad."""
    _, expected, _ = gapmap("square", "OR47B", area_folder)
    for words in (("OR4173", area_folder), ("OR405725", area_folder), (area_folder, "OR47B")):
        assert gapmap("square", *words)[:2] == (0, expected)
    code, _, err = gapmap("square", "OR47", area_folder)
    assert code != 0
    assert "lies in no one square of the map" in err


def test_what_is_recorded_too_coarsely_is_said_to_be(gapmap: Run, area_folder: Path, small_rows: Rows) -> None:
    lines = [["Inventa lata", "OR47", "12/06/2001", "A. Marsh", ""], ["Inventa vaga", "OR47B", "1950-1975", "Anon", ""]]
    with (area_folder / "records" / "old.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([small_rows[0], *lines])
    code, _, err = gapmap("expected", area_folder)
    assert code == 0, err
    rows = {row["species"]: row for row in rows_of(area_folder / "maps" / "in-no-square-yet.csv")}
    assert rows["Inventa lata"]["why"].startswith("recorded, but too coarsely")
    assert "Inventa vaga" not in rows


def test_expected_and_backtest(gapmap: Run, area_folder: Path) -> None:
    code, out, err = gapmap("expected", area_folder)
    assert code == 0, err
    assert "still to find" in out.lower()
    code, out, err = gapmap("expected", area_folder, "--square-ref", "OR47B", "--classes", "-2020, 2021-")
    assert code == 0, err
    assert re.search(r" (19|20)\d\d ", out), "the year it was last found, as years are written"
    assert not re.search(r"[12],\d{3}", out)
    code, out, err = gapmap("backtest", area_folder, "--until", "2010")
    assert code == 0, err
    assert (area_folder / "maps" / "backtest.json").exists()


def test_what_lives_around_the_area_is_listed_apart(gapmap: Run, area_folder: Path, small_rows: Rows) -> None:
    """A wider file tells of an invented species from four squares beside the area's; the area has it nowhere."""
    places = ["OR57B", "OR57C", "OR57G", "OR57H"]
    lines = [["Inventa vicina", place, f"12/06/{year}", "A. Marsh", ""] for place in places for year in (2001, 2011)]
    with (area_folder / "county.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([small_rows[0], *lines])
    with (area_folder / "lookups" / "checklist.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"{name}\n" for name in {*(row[0] for row in small_rows[1:]), "Inventa vicina", "Inventa absens"})
    settings = area_folder / "area.toml"
    text = settings.read_text(encoding="utf-8").replace("[area]", '[area]\nwider = ["county.csv"]')
    settings.write_text(text, encoding="utf-8")
    code, out, err = gapmap("expected", area_folder)
    assert code == 0, err
    assert "Inventa vicina" in out
    rows = rows_of(area_folder / "maps" / "in-no-square-yet.csv")
    mine = next(row for row in rows if row["species"] == "Inventa vicina")
    assert mine["squares_around"] == "4"
    assert mine["why"].startswith("known from 4 squares around the area")
    listed = next(row for row in rows if row["species"] == "Inventa absens")
    assert (listed["chance"], listed["why"]) == ("", "only the checklist names it")
    settings.write_text(text.replace("county.csv", "shire.csv"), encoding="utf-8")
    code, _, err = gapmap("expected", area_folder)
    assert code != 0
    assert "shire.csv" in err


def test_a_record_not_accepted_leaves_the_map_and_never_the_file(
    gapmap: Run, area_folder: Path, small_rows: Rows
) -> None:
    gapmap("coverage", area_folder, "--classes", CLASSES)
    before = {(r["square"], r["date_class"]): int(r["records"]) for r in rows_of(area_folder / "maps" / "squares.csv")}
    rows = small_rows
    row = next(n for n, cells in enumerate(rows) if cells[1] == "OR47G" and n > 0)
    code, out, err = gapmap(
        "decide", area_folder, f"small records.csv:{row + 1}", "not accepted", "--reason", "a test", "--who", "C. Dale"
    )
    assert code == 0, err
    assert f"Decided: {rows[row][0]}, OR47G, " in out, "the record is named, so that a wrong row is seen"
    gapmap("coverage", area_folder, "--classes", CLASSES)
    after = {(r["square"], r["date_class"]): int(r["records"]) for r in rows_of(area_folder / "maps" / "squares.csv")}
    assert before["OR47G", "all"] - after["OR47G", "all"] == 1
    gapmap(
        "decide",
        area_folder,
        f"small records.csv:{row + 1}",
        "accepted",
        "--reason",
        "voucher seen",
        "--who",
        "C. Dale",
    )
    gapmap("coverage", area_folder, "--classes", CLASSES)
    again = {(r["square"], r["date_class"]): int(r["records"]) for r in rows_of(area_folder / "maps" / "squares.csv")}
    assert again == before, "the last decision counts"
    assert len(rows_of(area_folder / "decisions.csv")) == 2, "nothing is ever taken out"


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["coverge", "x.csv"], "There is no such command. Found: coverge. What to do: did you mean coverage?\n"),
        (["coverage", "nowhere.csv", "--out", "maps"], "There is no such file or folder. Found: nowhere.csv."),
        (["coverage", "FILE"], "Say where the results are to go. What to do: add --out and a folder"),
        (["coverage", "FILE", "--out", "maps", "--square", "3km"], "This is not a square size gapmap can map. Found: 3km."),
        (["coverage", "FILE", "--out", "maps", "--classes", "2000-1990"], "A date class ends before it starts. Found: 2000-1990."),
        (["coverage", "FILE", "--out", "maps", "--classes", "1990-2000, 2000-"], "Two date classes overlap."),
        (["coverage", "FILE", "--out", "maps", "--grid", "french"], "The option grid cannot be this value. Found: french."),
        (["coverage", "FILE", "--out", "maps", "--columns", "species"], "Columns are said as meaning=header pairs."),
        (["coverage", "FILE", "--sqare", "2km"], "No such option"),
        (["square", "OI47", "FILE", "--out", "maps"], "OI47 has the letter I"),
        (["square", "OR99Z", "FILE", "--out", "maps"], "OR99Z"),
        (["expected", "FILE", "--square-ref", "OR47A", "--species", "Oniscus asellus"], "One square or one species is shown"),
        (["backtest", "FILE", "--until", "1900", "--out", "maps"], "The year to stop at must have lists before and after it."),
        (["plate", "FILE", "--species", "Nobody knows", "--out", "maps"], "There is no record of a species of that name."),
        (["plate", "FILE", "--species", "Oniscus aselus", "--out", "maps"], "did you mean Oniscus asellus?\n"),
        (["visits", "FILE", "--out", "maps"], "Visits are planned for an area folder, in which volunteers.csv says who"),
        (["decide", "FILE", "a:1", "accepted", "--reason", "x", "--who", "y"], "Decisions are kept in an area folder."),
    ],
)  # fmt: skip
def test_what_is_wrong_is_one_sentence(
    gapmap: Run, records_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], sentence: str
) -> None:
    monkeypatch.chdir(tmp_path)
    code, _, err = gapmap(*(str(records_file) if word == "FILE" else word for word in words))
    assert code == 2
    assert err.startswith("gapmap: ")
    assert sentence in err
    assert "Traceback" not in err


@pytest.mark.parametrize("within", ["records", "records/maps", "maps/../records/2026"])
def test_results_never_go_among_the_original_records(gapmap: Run, area_folder: Path, within: str) -> None:
    """Files anywhere below records/ are read as records the next time."""
    before = sorted(area_folder.rglob("records/**/*"))
    code, _, err = gapmap("coverage", area_folder, "--out", area_folder / within)
    assert code == 2
    assert "Results never go among the original records" in err
    assert sorted(area_folder.rglob("records/**/*")) == before


def test_an_everyday_name_that_two_species_have_is_no_missing_one(gapmap: Run, area_folder: Path) -> None:
    with (area_folder / "lookups" / "checklist.csv").open("a", encoding="utf-8") as file:
        file.write("Oniscus asellus,,,,Slater\nPorcellio scaber,,,,slater\nPhiloscia muscorum,,,,Striped slater\n")
    code, _, err = gapmap("plate", area_folder, "--species", "Slater")
    assert code == 2
    assert "Several species have that name. Found: Slater. What to do: write Oniscus asellus or Porcellio scaber." in err
    assert gapmap("plate", area_folder, "--species", "striped  Slater", "--dots", "50")[0] == 0


def test_a_fault_of_ours_is_said_without_a_traceback(
    gapmap: Run, records_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gapmap.workflow.coverage.read_and_count", lambda *_: 1 / 0)
    code, _, err = gapmap("coverage", records_file, "--out", tmp_path)
    assert code == 1
    assert "Traceback" not in err
    assert "a fault in gapmap itself" in err
    assert "ZeroDivisionError" in Path(re.search(r"send (\S+)", err)[1]).read_text()  # type: ignore[index]


def test_a_settings_mistake_names_the_line(gapmap: Run, area_folder: Path) -> None:
    area = area_folder / "area.toml"
    area.write_text(
        area.read_text(encoding="utf-8").replace("[rasters]", 'colour = "red"\n\n[rasters]', 1), encoding="utf-8"
    )
    line = next(n for n, text in enumerate(area.read_text(encoding="utf-8").splitlines(), start=1) if "colour" in text)
    code, _, err = gapmap("coverage", area_folder)
    assert code == 2
    assert f"area.toml, line {line}: there is no setting" in err


def test_years_are_printed_as_years(gapmap: Run, area_folder: Path) -> None:
    """A year has no comma, and 0 and 1, which stand for no year, are words."""
    with next((area_folder / "records").iterdir()).open("a", newline="", encoding="utf-8") as file:
        csv.writer(file).writerow(["Lithobius forficatus", "OR47S", "", "B. Holt", "undated"])
    gapmap("expected", area_folder)
    table = rows_of(area_folder / "maps" / "expected.csv")
    words = {"0": "never", "1": "year not known"}
    assert {row["found_before"] for row in table} >= {"0", "1"}
    for species in sorted({row["species"] for row in table}):
        code, out, err = gapmap("expected", area_folder, "--species", species)
        assert (code, err) == (0, "")
        assert "_" not in out.splitlines()[0], "headers are words"
        for row in (row for row in table if row["species"] == species):
            (line,) = (line for line in out.splitlines() if line.strip().startswith(row["square"]))
            assert f"  {words.get(row['found_before'], row['found_before'])}  " in line


def test_records_too_coarse_for_every_square(gapmap: Run, tmp_path: Path) -> None:
    """Ten records of hectads alone; then ten of a tetrad as well."""
    file = tmp_path / "hectads.csv"
    rows = [f"Oniscus asellus,OR4{n},{2000 + n}" for n in range(10)]
    file.write_text("\n".join(["Species,Grid ref,Year", *rows]) + "\n", encoding="utf-8")
    code, out, err = gapmap("coverage", file, "--out", tmp_path / "maps")
    assert (code, err) == (0, "")
    assert "10 of 10 records are too coarse for 2 km squares and stand in none of them" in out
    assert "for 10 km squares 0 would be: --square 10km" in out
    assert gpd.read_file(tmp_path / "maps" / "squares.gpkg").empty
    code, out, err = gapmap("expected", file, "--out", tmp_path / "maps")
    assert (code, err) == (0, "")
    assert "No record lies in a square of this map" in out
    assert gapmap("report", file, "--out", tmp_path / "maps")[0] == 0
    rows += [f"Oniscus asellus,OR47P,{n}" for n in range(2000, 2010)]
    file.write_text("\n".join(["Species,Grid ref,Year", *rows]) + "\n", encoding="utf-8")
    assert "stand in none of them" not in gapmap("coverage", file, "--out", tmp_path)[1], "half of them is not most"


def test_the_map_names_the_files_that_gave_records(gapmap: Run, area_folder: Path) -> None:
    """A sheet of explanations is read, is spoken of by check, and is no source of the map."""
    (area_folder / "records" / "notes.csv").write_text("About,these notes\nAsk,Ann\n", encoding="utf-8")
    code, out, _ = gapmap("coverage", area_folder)
    assert code == 0
    assert re.search(r"files and sheets read +2\b", out)
    facts, _ = page_to_columns((area_folder / "maps" / "coverage.html").read_text(encoding="utf-8"))
    assert facts["files"] == ["small records.csv"]


def test_every_record_is_on_the_map_or_said_not_to_be(gapmap: Run, tmp_path: Path) -> None:
    """Six records: three on the map, one of a hectad, one not accepted, one far away from the area."""
    gapmap("new", tmp_path / "area")
    settings = tmp_path / "area" / "area.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[area]", '[area]\nsquares = ["OR47A", "OR47B"]', 1), encoding="utf-8")
    rows = ["1 May 2020,OR47A,accepted", "2 May 2020,OR47A,", "3 May 2020,OR47B,awaiting", "4 May 2020,OR47,",
            "5 May 2020,OR47A,rejected", "6 May 2020,NT27A,"]  # fmt: skip
    lines = ["Species,Date,Grid ref,Status", *(f"Oniscus asellus,{row}" for row in rows)]
    (tmp_path / "area" / "records" / "a.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    code, out, _ = gapmap("coverage", tmp_path / "area", "--square", "2km")
    assert code == 0
    said = {name.strip(): value for name, value in re.findall(r"^  (.+?)  +(\S.*)$", out, re.MULTILINE)}
    assert said["records kept"] == "6"
    assert said["too coarse for 2 km squares"] == "1"
    assert said["not accepted, so on no map"] == "1"
    assert said["outside the area"] == "1"
    table = rows_of(tmp_path / "area" / "maps" / "squares.csv")
    assert sum(int(row["records"]) for row in table if row["date_class"] == "all") == 3


def test_a_column_that_no_file_has_is_said(gapmap: Run, records_file: Path, tmp_path: Path) -> None:
    words = ("coverage", records_file, "--out", tmp_path / "maps", "--columns")
    assert "No file has a column headed Taxn, which was said to be the species." in gapmap(*words, "species=Taxn")[1]
    assert "No file has a column" not in gapmap(*words, "species=SPECIES, reference=Grid ref")[1]


def test_of_few_records_none_is_called_ordinary(tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]]) -> None:
    """Three records, and one 50 km from all of them: too few to say anything, which is not that nothing stands out."""
    rows = "".join(f"Oniscus asellus,OR4070,{day}/6/2015,A. Marsh\n" for day in (1, 2, 3))
    (tmp_path / "coast.csv").write_text(f"species,grid reference,date,recorder\n{rows}", encoding="utf-8")
    code, printed, _ = gapmap("range", tmp_path / "coast.csv", "--record", "Oniscus asellus, OR9070, 2015, N. Obody")
    assert code == 0
    assert "“N. Obody” is no recorder of the files" in printed
    assert "Only 3 accepted records with a place are known: too few to say how odd one more is." in printed
    assert "Nothing stands out" not in printed
    code, printed, _ = gapmap("range", tmp_path / "coast.csv", "--out", tmp_path / "maps")
    assert code == 0
    assert "Among fewer than 20 records nothing can be said of how odd one is." in printed


def test_no_list_of_the_oddest_is_begun_where_none_is_odd(tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]]) -> None:
    """Thirty records of one species from one place: none to look at first, and as many more as the table has rows."""
    rows = "".join(f"Oniscus asellus,OR4070,{day}/6/2015,A. Marsh\n" for day in range(1, 31))
    (tmp_path / "coast.csv").write_text(f"species,grid reference,date,recorder\n{rows}", encoding="utf-8")
    code, printed, _ = gapmap("range", tmp_path / "coast.csv", "--out", tmp_path / "maps")
    assert code == 0
    assert "30 records judged. 0 to look at first" in printed
    assert "The oddest:" not in printed
    [more, verb] = re.findall(r"([\d,]+) more, .*? (is|are) in odd-records\.csv too", printed)[0]
    assert int(more) == len(pd.read_csv(tmp_path / "maps" / "odd-records.csv"))
    assert verb == ("is" if int(more) == 1 else "are")
