"""What gapmap writes into an organiser's list it reads as it was meant, and no spreadsheet runs it."""

from __future__ import annotations

from hypothesis import example, given
from hypothesis import strategies as st

from gapmap.records.own_lists import as_meant, harmless

CELLS = st.text(st.characters(codec="utf-8") | st.sampled_from("'=+-@")).map(str.strip)


@given(CELLS)
@example("'=1+1")
@example("''@x")
def test_a_cell_comes_back_as_it_was_meant(cell: str) -> None:
    """OWASP, CSV Injection: a cell that begins with one of = + - @ may be run (from memory)."""
    assert as_meant(harmless(cell)) == cell
    assert harmless(cell)[:1] not in {"=", "+", "-", "@"}
