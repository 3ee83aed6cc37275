"""What the coverage command says of the whole is what is on its map."""

from __future__ import annotations

from pathlib import Path

from gapmap.workflow.coverage import coverage_facts
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import read_and_count

ROWS = """species,reference,date,recorder,status
Oniscus asellus,OR4672,1/5/2010,A. Marsh,accepted
Porcellio scaber,OR4672,1/5/2010,A. Marsh,not accepted
Philoscia muscorum,OR47,1/5/2010,A. Marsh,
Trichoniscus pusillus,OW0070,1/5/2010,A. Marsh,
"""


def test_species_are_those_on_the_map(tmp_path: Path) -> None:
    """By hand: one species stands in a square; one was not accepted, one is too coarse, one lies outside the area."""
    (tmp_path / "records").mkdir()
    (tmp_path / "area.toml").write_text('[area]\ngrid = "british"\nsquares = ["OR47R", "OR47S"]\n', encoding="utf-8")
    (tmp_path / "records" / "a.csv").write_text(ROWS, encoding="utf-8")
    facts = dict(coverage_facts(read_and_count(open_source([str(tmp_path)]))))
    assert facts["records kept"] == "4"
    assert (facts["not accepted, so on no map"], facts["outside the area"]) == ("1", "1")
    assert facts["too coarse for 2 km squares"] == "1"
    assert (facts["squares"], facts["species"]) == ("2", "1")


def test_a_map_that_cannot_know_where_nobody_has_been_says_so(tmp_path: Path) -> None:
    (tmp_path / "records").mkdir()
    (tmp_path / "area.toml").write_text('[area]\ngrid = "british"\n', encoding="utf-8")
    (tmp_path / "records" / "a.csv").write_text(ROWS, encoding="utf-8")
    said = "only squares with records are on the map"
    assert any(said in remark for remark in read_and_count(open_source([str(tmp_path)])).remarks)
    (tmp_path / "area.toml").write_text('[area]\ngrid = "british"\nsquares = ["OR47R", "OR47S"]\n', encoding="utf-8")
    assert not any(said in remark for remark in read_and_count(open_source([str(tmp_path)])).remarks)
