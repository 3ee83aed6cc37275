"""Names with and without a checklist. How names are abbreviated is common practice, no source."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from gapmap.errors import ColumnError, FileError
from gapmap.records.names.alike import names_alike
from gapmap.records.names.checklist import doubts_of_checklist
from gapmap.records.names.parts import text_to_name
from gapmap.records.names.resolving import read_checklist, resolve_names

CHECKLIST = """\
name,authority,rank,synonyms,vernacular,group,identify,evidence,months,time_of_day,sensitive
Aglais io,"(Linnaeus, 1758)",species,Inachis io; Nymphalis io,Peacock; European Peacock,butterfly,sight,,3-10,day,no
Bombus lucorum,,species,,White-tailed Bumblebee,bee,dissection,,,,
Bombus lucorum agg.,,aggregate,,,bee,sight,,,,
Bombus terrestris,,species,,Buff-tailed Bumblebee,bee,sight,,,,
Bombus pascuorum,,species,,Common Carder Bee,bee,sight,,,,
Lucanus cervus,,species,,Stag Beetle,beetle,sight,,"5, 6-8",dusk,yes
Margaritifera margaritifera,,species,,Freshwater Pearl Mussel,mollusc,sight,,,,10km
Motacilla alba,,species,,Pied Wagtail; White Wagtail,bird,sight,,,,
Oniscus asellus,,species,,Common Shiny Woodlouse,woodlouse,sight,,,,
Armadillidium vulgare,,species,Vulgaris commonis,Pill Woodlouse,woodlouse,sight,,,,
Glomeris marginata,,species,Vulgaris commonis,Pill Millipede,millipede,sight,,,,
"""


@pytest.fixture(scope="module")
def checklist(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    path = tmp_path_factory.mktemp("names") / "checklist.csv"
    path.write_text(CHECKLIST, encoding="utf-8")
    return read_checklist(path)


def resolved(texts: list[str], checklist: pd.DataFrame | None = None) -> dict[str, tuple[str, bool, str]]:
    found = resolve_names(texts, checklist)
    return dict(zip(texts, zip(found["name"], found["counts"], found["code"], strict=True), strict=True))


@pytest.mark.parametrize(
    "text",
    ["Aglais io", "AGLAIS IO", "aglais io", "Aglais io (Linnaeus, 1758)", "Aglais io L.", "Aglais (Inachis) io",
     " Aglais  io ", "Aglais_io", "Aglais io s.str.", "Peacock", "peacock", "European peacock", "Aglais io (larva)"],
)  # fmt: skip
def test_ways_to_write_a_listed_name(text: str, checklist: pd.DataFrame) -> None:
    assert resolved([text], checklist)[text] == ("Aglais io", True, "")


def test_a_synonym_leads_to_the_listed_name_and_is_said(checklist: pd.DataFrame) -> None:
    found = resolve_names(["Inachis io"], checklist).iloc[0]
    assert (found["name"], found["counts"], found["severity"]) == ("Aglais io", True, "note")
    assert found["sentence"] == "The name “Inachis io” is listed as Aglais io now."


def test_a_near_spelling_is_only_suggested(checklist: pd.DataFrame) -> None:
    found = resolve_names(["Oniscus assellus", "Aglias io", "O. asellus", "Nothing near"], checklist)
    assert not found["counts"].any()
    assert found["code"].unique().tolist() == ["not on the checklist"]
    assert found["suggestion"].tolist() == [
        "Oniscus asellus, if that was meant", "Aglais io, if that was meant", "Oniscus asellus, if that was meant",
        "check the name, or add it to the checklist",
    ]  # fmt: skip


def test_a_name_of_two_is_no_name(checklist: pd.DataFrame) -> None:
    found = resolve_names(["Vulgaris commonis"], checklist).iloc[0]
    assert (found["name"], found["severity"]) == ("", "not a record")
    assert "Armadillidium vulgare or Glomeris marginata" in found["sentence"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Bombus cf. lucorum", ("Bombus", False, "uncertain name")),
        ("Bombus lucorum?", ("Bombus", False, "uncertain name")),
        ("?Bombus lucorum", ("Bombus lucorum?", False, "uncertain name")),
        ("Bombus sp.", ("Bombus", False, "not a species")),
        ("Bombus", ("Bombus", False, "not a species")),
        ("Bombus lucorum/terrestris", ("Bombus lucorum/terrestris", False, "not a species")),
        # The aggregate is listed, but so is a member of it: only the member counts.
        ("Bombus lucorum agg.", ("Bombus lucorum agg.", False, "")),
        ("Bombus lucorum s.l.", ("Bombus lucorum agg.", False, "")),
        ("Bombus terrestris agg.", ("Bombus terrestris agg.", False, "not a species")),
        ("Motacilla alba yarrellii", ("Motacilla alba", True, "below species")),
        ("Motacilla alba subsp. alba", ("Motacilla alba", True, "")),
    ],
)
def test_the_level_a_name_can_bear(text: str, expected: tuple[str, bool, str], checklist: pd.DataFrame) -> None:
    assert resolved([text], checklist)[text] == expected


def test_facts_come_from_the_checklist(checklist: pd.DataFrame) -> None:
    found = resolve_names(["Stag beetle", "Margaritifera margaritifera", "Aglais io"], checklist)
    assert found["vernacular"].tolist() == ["Stag Beetle", "Freshwater Pearl Mussel", "Peacock; European Peacock"]
    assert found["sensitive_m"].tolist() == [10_000, 10_000, 0]
    assert found["months"].tolist() == ["5,6-8", "", "3-10"]
    assert found["time_of_day"].tolist() == ["dusk", "", "day"]


def test_without_a_checklist_the_names_found_are_the_list() -> None:
    found = resolved([
        "Bombus terrestris", "Bombus (Bombus) terrestris", "BOMBUS TERRESTRIS (L.)", "Bombus", "Rubus fruticosus agg.",
        "Bombus terrestris agg.", "Mentha × piperita", "Mentha x piperita",
        "Salix alba x babylonica = S. x sepulcralis",
        "Quercus petraea x robur", "Motacilla alba yarrellii", "Dytiscidae", "Common Blue", "common blue", "",
    ])  # fmt: skip
    assert found["Bombus terrestris"] == found["Bombus (Bombus) terrestris"] == ("Bombus terrestris", True, "")
    assert found["BOMBUS TERRESTRIS (L.)"][0] == "Bombus terrestris"
    assert found["Bombus"] == ("Bombus", False, "not a species")
    assert found["Rubus fruticosus agg."] == ("Rubus fruticosus agg.", True, "")
    assert found["Bombus terrestris agg."][1] is False
    assert found["Mentha x piperita"] == found["Mentha × piperita"] == ("Mentha × piperita", True, "")
    assert found["Salix alba x babylonica = S. x sepulcralis"][0] == "Salix × sepulcralis"
    assert found["Quercus petraea x robur"] == ("Quercus petraea × robur", False, "not a species")
    assert found["Motacilla alba yarrellii"] == ("Motacilla alba", True, "below species")
    assert found["Dytiscidae"][1] is False
    assert found["Common Blue"][0] == found["common blue"][0]
    assert found[""] == ("", False, "no species")


@pytest.mark.parametrize(
    "written", ["B. terrestris", "B terrestris", "B. terrestris (L.)", "b. terrestris", "B. TERRESTRIS", "B.terrestris"]
)
def test_an_initial_is_taken_for_the_one_genus_that_it_fits(written: str) -> None:
    """Counted by hand: three species; Lumbricus terrestris begins with another letter."""
    found = resolve_names(["Bombus terrestris", written, "Bombus lucorum", "Lumbricus terrestris"], None)
    assert found["name"].tolist()[:2] == ["Bombus terrestris"] * 2
    assert found["counts"].all()
    assert found["code"].tolist() == ["", "abbreviated", "", ""]
    assert found["severity"][1] == "note"
    assert found["sentence"][1] == f"The name “{written}” is taken for Bombus terrestris."


def test_an_initial_that_fits_several_genera_or_none() -> None:
    """D. pulex may be Daphnia or Dactylus (made up); no full name of these ends in lucorum, and no genus has a P."""
    found = resolved(["Daphnia pulex", "Dactylus pulex", "D. pulex", "B. lucorum", "P. pulex"])
    assert found["D. pulex"] == ("D. pulex", False, "abbreviated")
    assert found["B. lucorum"] == ("B. lucorum", True, "")
    assert found["P. pulex"] == ("P. pulex", True, "")


def test_an_initial_before_more_than_a_species() -> None:
    found = resolved(["Bombus terrestris", "B. terrestris agg.", "B. terrestris subsp. audax", "B. cf. terrestris"])
    assert found["B. terrestris agg."] == ("Bombus terrestris agg.", False, "abbreviated")
    assert found["B. terrestris subsp. audax"] == ("Bombus terrestris", True, "below species")
    assert found["B. cf. terrestris"][1] is False


@pytest.mark.parametrize("written", ["A hornet", "A moth", "V moth", "I think"])
def test_a_letter_before_an_english_word_is_no_genus(written: str) -> None:
    assert text_to_name(written)[:3] == (written, "", "everyday")


def test_with_a_checklist_an_initial_is_only_suggested(checklist: pd.DataFrame) -> None:
    for written in ("O. asellus", "O asellus", "O.asellus"):
        found = resolve_names([written], checklist)
        assert found[["counts", "code"]].to_numpy().tolist() == [[False, "not on the checklist"]]
        assert found["suggestion"][0] == "Oniscus asellus, if that was meant"


def test_a_list_of_everyday_names_counts() -> None:
    assert resolved(["Blackbird", "Robin", "Wren"])["Robin"] == ("Robin", True, "")


def test_names_spelt_almost_alike_are_shown_but_stay_apart() -> None:
    found = resolve_names(["Oniscus asellus", "Oniscus assellus", "Pieris rapae", "Pieris napi"], None)
    assert found["name"].nunique() == 4
    assert found["code"].tolist() == ["names alike", "names alike", "", ""]
    assert found["severity"].tolist()[:2] == ["note", "note"]


def test_only_the_rarer_of_two_alike_is_shown_when_it_is_known_how_often_they_stand() -> None:
    names = ["Oniscus asellus", "Oniscus assellus"]
    assert resolve_names(names, None, [300, 2])["code"].tolist() == ["", "names alike"]
    assert resolve_names(names, None, [3, 2])["code"].tolist() == ["names alike", "names alike"]


def test_no_real_pair_of_the_edinburgh_list_is_called_alike(open_data: Path) -> None:
    """1,275 taxa of a real list: two species with near names would be a false alarm; none is raised."""
    path = open_data / "edinburgh_2000_2016.csv"
    if not path.is_file():
        pytest.skip("the open data are not beside the project")
    names = pd.read_csv(path, dtype=str)["taxonName"].unique().tolist()
    assert len(names) == 1275
    found = resolve_names(names, None)
    assert (found["code"] != "names alike").all()
    assert (found["name"] != "").all()


def test_alike_is_one_slip_in_five_letters_or_two_in_nine() -> None:
    assert names_alike(["Aus minimus", "Aus minimvs"]) != {}
    assert names_alike(["Aus atra", "Aus otra"]) == {}
    assert names_alike(["Aus septempunctata", "Aus septemqunctaza"]) != {}
    assert names_alike(["Aus pallida", "Aus palleda"]) != {}
    assert names_alike(["Aus pallida", "Aus palmeda"]) == {}


@pytest.mark.parametrize(
    ("text", "rank"),
    [("Bombus nr. terrestris", "genus"), ("cf. Bombus terrestris", "doubtful"), ("Arion (Arion)", "subgenus"),
     ("Chiroptera", "group"), ("Seven-spot Ladybird", "everyday"), ("unidentified", "none"), ("???", "none")],
)  # fmt: skip
def test_ranks(text: str, rank: str) -> None:
    assert text_to_name(text).rank == rank


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("", ColumnError, "no column called name"),
        ("species list,group\nAglais io,x\n", ColumnError, "no column called name"),
        ("name,group,taxon group\nAglais io,x,y\n", ColumnError, None),
        ("name\nAglais io\naglais io\n", FileError, "a name twice"),
        ("name,group\n,x\n", FileError, "row 2: there is no name"),
        ("name,months\nAglais io,March\n", FileError, "the months of Aglais io"),
        ("name,sensitive\nAglais io,rather\n", FileError, "how sensitive Aglais io"),
    ],
)
def test_a_checklist_that_cannot_be_is_one_sentence(
    tmp_path: Path, text: str, kind: type[Exception], words: str | None
) -> None:
    path = tmp_path / "checklist.csv"
    path.write_text(text, encoding="utf-8")
    if words is None:  # one of the two is called exactly as it should be: it wins
        assert read_checklist(path)["group"].tolist() == ["x"]
        return
    with pytest.raises(kind, match=words):
        read_checklist(path)


def test_a_checklist_from_a_spreadsheet(tmp_path: Path) -> None:
    """Semicolons, a byte order mark, old Windows letters and headers with blanks."""
    path = tmp_path / "checklist.csv"
    path.write_bytes("\ufeffName;Common name;Time of day\nAglais io;Tagpfauenauge;day\n".encode())
    assert read_checklist(path)[["name", "vernacular", "time_of_day"]].values.tolist() == [
        ["Aglais io", "Tagpfauenauge", "day"]
    ]
    path.write_bytes("name,authority\nHelix aspersa,Müller\n".encode("cp1252"))
    assert read_checklist(path)["authority"].tolist() == ["Müller"]


def test_a_missing_checklist_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be read"):
        read_checklist(tmp_path / "none.csv")


@pytest.mark.parametrize(
    "written",
    ["AGLAIS IO (Linnaeus)", "AGLAIS IO (Linnaeus, 1758)", "AGLAIS IO L.", "aglais io (Linnaeus, 1758)", "aglais io L.",
     "aglais io Linnaeus, 1758", "“Aglais io”", "AGLAIS IO", "aglais io"],
)  # fmt: skip
def test_case_before_an_authority(written: str) -> None:
    assert resolve_names([written], None)["name"].tolist() == ["Aglais io"]


@pytest.mark.parametrize("written", ["seven-spot Ladybird", "RED Admiral"])
def test_everyday_names_keep_their_case(written: str) -> None:
    assert text_to_name(written).name == written


@pytest.mark.parametrize(
    "written",
    ["Aglais io, Pieris rapae", "Pieris rapae; Aglais io", "Aglais io & Pieris napi", "Aglais io\nPieris napi",
     "Aglais io and Pieris napi", "Cepaea nemoralis (Linnaeus) and Helix pomatia", "Aglais io or Pieris napi",
     "Oniscus asellus and Porcellio scaber", "Oniscus asellus + P. scaber", "Oniscus asellus L. & P. scaber Latr.",
     "Oniscus asellus Linnaeus, 1758; Porcellio scaber Latreille, 1804"],
)  # fmt: skip
def test_two_species_in_a_cell_are_no_record(written: str) -> None:
    """Neither is dropped in silence: the row has to be parted."""
    found = resolve_names([written], None).iloc[0]
    assert (found["name"], found["code"], found["severity"]) == ("", "several species", "not a record")


@pytest.mark.parametrize(
    "written",
    ["Vanessa cardui, Painted lady", "Painted lady, Vanessa cardui", "Aglais io (L.) & Smith", "Aglais io (Linnaeus, 1758)",
     "Rubus fruticosus L. Merton & Koch ex Smith", "Large white and small white", "Salix alba x babylonica"],
)  # fmt: skip
def test_one_species_said_at_length_is_one(written: str) -> None:
    assert resolve_names([written], None)["code"][0] != "several species"


@pytest.mark.parametrize(
    ("written", "name"),
    [("Lycaena phlaeas, Small copper", "Lycaena phlaeas"), ("Porcellio scaber, Common rough woodlouse", "Porcellio scaber"),
     ("Arctia caja, Garden tiger", "Arctia caja"), ("Lasius niger (Linnaeus), Garden ant", "Lasius niger"),
     ("Oniscus asellus, Linnaeus, 1758", "Oniscus asellus"), ("Copper, Small", "Copper, Small")],
)  # fmt: skip
def test_what_follows_a_comma_is_no_part_of_a_scientific_name(written: str, name: str) -> None:
    found = resolve_names([written], None).iloc[0]
    assert (found["name"], found["counts"]) == (name, True)


@pytest.mark.parametrize(
    "written",
    ["none found", "nothing seen", "No isopods", "no woodlice seen", "absent", "TBC", "to be identified",
     "awaiting identification", "total species: 12", "Subtotal"],
)  # fmt: skip
def test_a_search_in_vain_or_a_total_is_no_species(written: str) -> None:
    """What stands in the column of the species and is none (common practice in people's lists, no source)."""
    found = resolve_names([written], None).iloc[0]
    assert (found["name"], found["code"], found["severity"]) == ("", "no species", "not a record")


@pytest.mark.parametrize("written", ["Nomada flava", "Noctua pronuba", "Noble chafer", "Nothing-but-green moth", "Totally green"])
def test_names_that_begin_alike_are_names(written: str) -> None:
    assert resolve_names([written], None)["name"].tolist() == [written]


@pytest.mark.parametrize(
    ("written", "name"),
    [("unidentified woodlouse", "Woodlouse"), ("Unknown ground beetle", "Ground beetle"), ("unid. Bombus", "Bombus")],
)
def test_a_group_that_nobody_could_name_further(written: str, name: str) -> None:
    found = resolve_names([written, "Aglais io", "Aglais urticae"], None).iloc[0]
    assert (found["name"], found["counts"], found["code"]) == (name, False, "not a species")


def test_a_name_that_authors_misapplied_does_not_count() -> None:
    """auct. non L.: of authors, not of Linnaeus, so another species was meant (a fact of the trade, no source)."""
    found = resolve_names(["Oniscus asellus auct. non L."], None).iloc[0]
    assert (found["name"], found["counts"], found["code"]) == ("Oniscus", False, "uncertain name")


@pytest.mark.parametrize(
    "written",
    ["Bombus terrestris/lucorum", "Bombus terrestris / lucorum", "Bombus terrestris or B. lucorum",
     "Bombus terrestris/Bombus lucorum", "Bombus terrestris or Bombus lucorum"],
)  # fmt: skip
def test_one_of_two_species(written: str) -> None:
    found = resolve_names([written], None).iloc[0]
    assert (found["name"], found["counts"]) == ("Bombus terrestris/lucorum", False)


@pytest.mark.parametrize("written", ["#NAME?", "#REF!", "#N/A", "#VALUE!", "####", "#DIV/0!"])
def test_what_a_spreadsheet_puts_for_a_fault_is_no_name(written: str) -> None:
    assert resolve_names([written], None)["code"].tolist() == ["no species"]


@pytest.mark.parametrize(
    "written",
    ["*Aglais io", "Aglais io *", "1. Aglais io", "12) Aglais io", "- Aglais io", "• Aglais io", "[Aglais io]", "(Aglais io)",
     "Peacock (Aglais io)", "Peacock - Aglais io", "Peacock – Aglais io", "Painted lady (Aglais io)", "Aglais io (Peacock)",
     "Aglais io Peacock", "Aglais_io"],
)  # fmt: skip
def test_marks_and_everyday_names_around_a_name(written: str) -> None:
    assert resolve_names([written], None)["name"].tolist() == ["Aglais io"]


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Aglais urticae (Vanessa urticae)", "Aglais urticae"),
        ("Seven-spot ladybird (Coccinella septempunctata)", "Coccinella septempunctata"),
        ("7-spot Ladybird", "7-spot Ladybird"),
        ("Bombus (Pyrobombus) pratorum", "Bombus pratorum"),
        ("Cream-spot ladybird - larva", "Cream-spot ladybird"),
    ],
)
def test_brackets_and_dashes_that_belong_to_a_name(written: str, name: str) -> None:
    assert text_to_name(written).name == name


def test_a_checklist_may_say_auct_itself(tmp_path: Path) -> None:
    path = tmp_path / "checklist.csv"
    path.write_text("name\nAglais io auct.\nAglais urticae\n", encoding="utf-8")
    found = resolve_names(["Aglais io auct.", "Aglais urticae auct."], read_checklist(path))
    assert found["name"].tolist() == ["Aglais io auct.", "Aglais"]


@pytest.mark.parametrize("written", ["Salix hybrid", "Mallard hybrid", "Salix alba hybrid", "Crack willow (hybrid)", "Salix hybr."])
def test_a_hybrid_without_a_name_does_not_count_as_its_parent(written: str) -> None:
    found = resolve_names([written, "Salix alba", "Medicago hybrida", "Hybrid bluebell"], None)
    assert found.loc[0, ["name", "rank", "counts"]].tolist() == [written, "hybrid", False]
    assert found["counts"].tolist()[1:] == [True] * 3


def test_a_genus_in_brackets_makes_no_epithet_of_an_english_word() -> None:
    """Common shiny is no species of which woodlouse is a subspecies."""
    found = resolve_names(["Common shiny woodlouse (Oniscus)", "Carabus granulatus hibernicus (Lindroth)"], None)
    assert found["name"].tolist() == ["Common shiny woodlouse (Oniscus)", "Carabus granulatus"]


def test_a_name_that_is_a_synonym_of_another_too_is_said_once(tmp_path: Path) -> None:
    """In a circle of two, of three, and in a chain; a name that is its own synonym, and one without, are no matter."""
    rows = ["Aus bus,Cus dus", "Cus dus,Aus bus", "Eus one,Eus two", "Eus two,Eus three", "Eus three,Eus one", "Fus gus,Fus gus"]
    path = tmp_path / "checklist.csv"
    path.write_text("\n".join(["name,synonyms", *rows, "Hus ius,"]), encoding="utf-8")
    said = doubts_of_checklist(read_checklist(path))
    assert [words.split(" both ")[0].removeprefix("The checklist has ") for words in said] == [
        "Aus bus", "Eus one", "Eus three", "Eus two",
    ]  # fmt: skip
    assert "Aus bus both as a name and as a synonym of Cus dus, so" in said[0]
    path.write_text("\n".join(["name,synonyms", *(f"Aus b{n}us,Aus c{n}us\nAus c{n}us," for n in range(7))]), encoding="utf-8")
    assert doubts_of_checklist(read_checklist(path))[4:] == ("So it is with 3 more of the checklist's names.",)


def test_a_listed_subspecies_is_no_second_species_beside_its_own(tmp_path: Path) -> None:
    """A square with both wagtails has one species of wagtail; listed alone the pied one stands for it."""
    path = tmp_path / "checklist.csv"
    path.write_text("name,vernacular\nMotacilla alba,\nMotacilla alba subsp. yarrellii,Pied wagtail\n", encoding="utf-8")
    found = resolved(["Motacilla alba", "Motacilla alba subsp. yarrellii", "Pied wagtail"], read_checklist(path))
    assert set(found.values()) == {("Motacilla alba", True, ""), ("Motacilla alba", True, "below species")}
    path.write_text("name\nMotacilla alba subsp. yarrellii\n", encoding="utf-8")
    assert resolved(["Motacilla alba subsp. yarrellii"], read_checklist(path))["Motacilla alba subsp. yarrellii"][1]
    path.write_text("name,sensitive\nMotacilla alba,\nMotacilla alba yarrellii,10km\n", encoding="utf-8")
    found = resolved(["Motacilla alba yarrellii"], read_checklist(path))
    assert found["Motacilla alba yarrellii"][:2] == ("Motacilla alba yarrellii", False)
