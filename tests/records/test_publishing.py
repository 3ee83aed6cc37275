"""What leaves the desk of a sensitive species: nothing finer than its size, however its records were written.

That places of sensitive species are published in larger squares, with what describes the place taken away, is the
advice of A. D. Chapman (2020), Current Best Practices for Generalizing Sensitive Species Occurrence Data, GBIF
Secretariat, doi:10.15468/doc-5jp4-5g10 (chapters on generalising and on textual locality; from memory).
"""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from gapmap.errors import SettingsError
from gapmap.outputs.darwin_core import About, records_to_occurrences, write_archive
from gapmap.records.clean import read_records
from gapmap.records.publishing import records_to_publish, sizes_to_publish
from gapmap.records.sensitive import sensitive_sizes
from gapmap.records.table import Records
from gapmap.settings import Settings

SENSITIVE, COMMON = "Lutra lutra", "Oniscus asellus"
SETTINGS = Settings.model_validate({"area": {"grid": "british"}, "publish": {"sensitive": {SENSITIVE: "10km"}}})


def published(path: Path, text: str) -> Records:
    path.write_text(text, encoding="utf-8")
    return records_to_publish(read_records([path], SETTINGS), SETTINGS)


def archived(records: Records, path: Path) -> pd.DataFrame:
    table = records_to_occurrences(records.frame(), records.species, records.people)
    write_archive(table, About("Isle", "Invented records.", date(2026, 11, 1)), path)
    with zipfile.ZipFile(path) as archive, archive.open("occurrence.txt") as file:
        return pd.read_csv(file, sep="\t", dtype=str, keep_default_na=False)


def test_a_place_name_does_not_tell_what_the_reference_keeps_back(tmp_path: Path) -> None:
    """A recorder who coarsened the reference often still wrote where it was."""
    records = published(
        tmp_path / "a.csv",
        "species,reference,date,place,habitat\n"
        f"{SENSITIVE},OR47,12/5/2020,Hidden Hollow,under the old bridge\n"
        f"{COMMON},OR4672,12/5/2020,Open Field,hedge\n",
    )
    table = archived(records, tmp_path / "out.zip").set_index("scientificName")
    assert table.loc[SENSITIVE, ["locality", "habitat"]].tolist() == ["", ""]
    assert table.loc[COMMON, ["locality", "habitat"]].tolist() == ["Open Field", "hedge"]
    assert table.loc[SENSITIVE, "dataGeneralizations"] == "placed in squares of 10000 m at the finest and dated by years, as the species is sensitive"
    assert table.loc[COMMON, "dataGeneralizations"] == ""


def test_a_point_as_uncertain_as_the_size_keeps_none_of_its_figures(tmp_path: Path) -> None:
    """A circle of radius 7071 m reaches the corners of a square of 10 km (half its diagonal: 10 000 / √2)."""
    records = published(
        tmp_path / "a.csv",
        f"species,easting,northing,uncertainty,date\n{SENSITIVE},646712,672345,7071,12/5/2020\n"
        f"{COMMON},646712,672345,7071,12/5/2020\n",
    )
    frame = records.frame().merge(records.species[["species_id", "name"]]).set_index("name")
    assert frame.loc[SENSITIVE, ["easting", "northing", "precision_m", "is_point"]].tolist() == [640_000, 670_000, 10_000, False]
    assert frame.loc[COMMON, ["easting", "northing", "is_point"]].tolist() == [646_712, 672_345, True]


@pytest.mark.parametrize(
    ("uncertainty", "corner", "side"),
    [("10", (640_000, 670_000), 10_000), ("12000", (640_000, 660_000), 20_000), ("90000", (600_000, 600_000), 100_000)],
)
def test_a_point_less_certain_than_the_size_becomes_the_square_as_wide_as_it(
    tmp_path: Path, uncertainty: str, corner: tuple[int, int], side: int
) -> None:
    """Radii of 10 m, 12 km and 90 km are 14 m, 17 km and 127 km wide squares: the next are 10 km (the size), 20 and 100 km."""
    records = published(
        tmp_path / "a.csv", f"species,easting,northing,uncertainty,date\n{SENSITIVE},646712,672345,{uncertainty},12/5/2020\n"
    )
    [row] = records.frame()[["easting", "northing", "precision_m", "is_point"]].to_numpy().tolist()
    assert row == [*corner, side, False]
    table = archived(records, tmp_path / "out.zip")
    assert not table["footprintWKT"].eq("").any()
    assert table["verbatimCoordinates"].ne("").all()


@pytest.mark.parametrize(("written", "reference"), [("3000", "OR47SE"), ("10km", "OR47"), ("700 m", "OR4672"), ("yes", "OR47")])
def test_a_size_in_metres_that_no_square_has_becomes_the_next_larger(tmp_path: Path, written: str, reference: str) -> None:
    (tmp_path / "lookups").mkdir()
    (tmp_path / "lookups" / "checklist.csv").write_text(f"name,sensitive\n{SENSITIVE},{written}\n", encoding="utf-8")
    path = tmp_path / "a.csv"
    path.write_text(f"species,reference,date\n{SENSITIVE},OR468727,12/5/2020\n", encoding="utf-8")
    records = read_records([path], Settings(), folder=tmp_path)
    table = archived(records_to_publish(records, Settings()), tmp_path / "out.zip")
    assert table["verbatimCoordinates"].tolist() == [reference]


def test_names_that_take_a_sensitive_species_in_are_as_sensitive(tmp_path: Path) -> None:
    """An aggregate, a hybrid, either of two and a slip of one letter may each be the otter; a genus says too little."""
    with_it = ["Lutra lutra", "Lutra lutra agg.", "Lutra maculicollis x lutra", "Lutra lutra / maculicollis", "Lutra luttra"]
    without = ["Lutra", "Lutra maculicollis", COMMON]
    lines = "".join(f"{name},OR467723,12/5/2020\n" for name in (*with_it, *without))
    records = published(tmp_path / "a.csv", "species,reference,date\n" + lines)
    table = records.frame().merge(records.species[["species_id", "name"]])
    assert sorted(table["precision_m"]) == [100] * len(without) + [10_000] * len(with_it)
    assert set(table.loc[table["precision_m"] == 100, "name"]) == set(without)


def sizes_of(names: dict[str, int], settings: Settings | None = None, **more: object) -> list[int]:
    """Sizes of species by their names and own sizes."""
    species = pd.DataFrame({"name": names.keys(), "vernacular": "", "rank": "species", "sensitive_m": names.values()})
    listed = more.pop("listed", {})
    return sensitive_sizes(species.assign(**more), settings or Settings(), listed)[0].tolist()


def test_a_name_that_somebody_looked_at_is_no_slip() -> None:
    """A listed name is another species, however alike the two are spelt, and so is one with a size of its own."""
    names = {"Lutra lutra": 10_000, "Lutra luttra": 0}
    assert sizes_of(names) == [10_000, 10_000]
    assert sizes_of(names, listed={"Lutra lutra": 10_000, "Lutra luttra": 0}) == [10_000, 0]
    of_its_own = Settings.model_validate({"publish": {"sensitive": {"Lutra luttra": "100m"}}})
    assert sizes_of(names, of_its_own) == [10_000, 100]


def test_who_holds_a_name_back_as_a_slip_says_so(tmp_path: Path) -> None:
    """Else a common species would be drawn in 10 km squares and nobody knew why."""
    rows = "Lutra lutra,OR467723,12/5/2020\nLutra luttra,OR467723,13/5/2020\nMartes martes,OR467723,13/5/2020\n"
    path = tmp_path / "a.csv"
    path.write_text("species,reference,date\n" + rows, encoding="utf-8")
    said = read_records([path], Settings.model_validate({"publish": {"sensitive": {"Lutra lutra": "10km"}}})).remarks
    assert [words for words in said if "sensitive" in words] == [
        "“Lutra luttra” is spelt almost like the sensitive Lutra lutra, so it is published no finer than that, 10 km. If it "
        'is another species, put it on the checklist or write "Lutra luttra" = "100m" under [publish] sensitive.'
    ]


def test_an_everyday_name_is_as_sensitive_as_its_species() -> None:
    """The otter by its everyday name alone; a name that a common species has too says too little."""
    names = {"Lutra lutra": 10_000, "Ophrys apifera": 5_000, "Orchis mascula": 0, "Otter": 0, "Orchid": 0}
    assert sizes_of(names, vernacular=["Otter", "Orchid", "Orchid", "", ""]) == [10_000, 5_000, 0, 10_000, 0]


def test_a_genus_is_sensitive_when_all_its_species_are() -> None:
    """Tyto here is the barn owl; of the harriers the larger size; one common plover is enough to tell no place."""
    names = {"Tyto alba": 2_000, "Circus cyaneus": 5_000, "Circus pygargus": 10_000, "Charadrius morinellus": 10_000}
    ranks = ["species"] * 4 + ["genus"] * 3 + ["hybrid", "doubtful"]
    genera = {"Tyto": 0, "Circus": 0, "Charadrius": 0, "Circus hybrid": 0, "Tyto?": 0}
    assert sizes_of(names | genera, rank=ranks)[4:] == [2_000, 10_000, 10_000, 10_000, 2_000]
    assert sizes_of(names | genera, rank=ranks, listed=["Charadrius hiaticula"])[4:] == [2_000, 10_000, 0, 10_000, 2_000]


def test_an_aggregate_is_sensitive_where_its_species_was_never_recorded(tmp_path: Path) -> None:
    """The checklist knows the species; the area's other outputs know it too, not those that are published alone."""
    (tmp_path / "lookups").mkdir()
    (tmp_path / "lookups" / "checklist.csv").write_text(f"name,sensitive\n{SENSITIVE},5km\n", encoding="utf-8")
    path = tmp_path / "a.csv"
    path.write_text(f"species,reference,date\n{SENSITIVE} agg.,OR468727,12/5/2020\n", encoding="utf-8")
    records = read_records([path], Settings(), folder=tmp_path)
    assert records.species["sensitive_m"].tolist() == [5_000]
    assert records_to_publish(records, Settings()).frame()["precision_m"].tolist() == [5_000]


def test_a_size_larger_than_any_square_is_one_sentence(tmp_path: Path) -> None:
    species = pd.DataFrame({"name": [SENSITIVE], "sensitive_m": [200_000]})
    with pytest.raises(SettingsError, match=r"Lutra lutra is to be published in squares larger .* Found: 200000 m"):
        sizes_to_publish(species, Settings())


def test_the_order_of_rows_does_not_tell_what_was_on_one_list(tmp_path: Path) -> None:
    """Between two rows of one walk, a record in a large square would be known to lie where they do."""
    rows = [
        (COMMON, "OR4672", "12/5/2020"), (SENSITIVE, "OR467723", "12/5/2020"), (COMMON, "OR4673", "12/5/2020"),
        (COMMON, "OR4199", "3/5/2020"), (SENSITIVE, "OR415995", "1/5/2020"), (COMMON, "OR4199", "2/5/2020"),
    ]  # fmt: skip
    lines = [",".join(row) for row in rows]
    one, other = (
        archived(published(tmp_path / f"{name}.csv", "\n".join(["species,reference,date", *order])), tmp_path / "out.zip")
        for name, order in (("as walked", lines), ("shuffled", [lines[n] for n in (4, 0, 2, 5, 1, 3)]))
    )
    pd.testing.assert_frame_equal(one, other)
    assert sorted(one["occurrenceID"]) == [f"record-{number}" for number in range(1, 7)]


def test_a_record_in_a_large_square_is_on_the_list_of_that_square(tmp_path: Path) -> None:
    """By hand: one walk in one square kilometre, and of the same day and person what was found elsewhere in the 10 km:
    the common ones are on a list of their kilometre each, both sensitive ones on one of the large square.
    """
    walked = [(COMMON, "OR4672"), (SENSITIVE, "OR4672"), (COMMON, "OR4173"), (SENSITIVE, "OR4173")]
    lines = [f"{species},{reference},12/5/2020,A. Marsh" for species, reference in walked]
    records = published(tmp_path / "a.csv", "\n".join(["species,reference,date,recorder", *lines]))
    frame = records.frame()
    assert (frame["list_id"] >= 0).all()
    assert frame.groupby("easting")["list_id"].nunique().to_dict() == {640_000: 1, 641_000: 1, 646_000: 1}
    assert frame["list_id"].nunique() == 3
