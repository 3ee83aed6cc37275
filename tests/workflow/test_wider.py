"""Species from around the area, wherever on Earth the area lies."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

OWN = [f"31UDQ{square}50" for square in range(40, 46)]


def area_of(folder: Path, gapmap: Callable[..., tuple[int, str, str]], listed: str) -> str:
    """What in-no-square-yet.csv says of a small area of UTM squares, given what its area file lists as its squares."""
    own = ["species,reference,date,recorder"]
    own += [
        f"{name},{square},{1 + year % 27}/05/{year},A. Marsh"
        for year in range(2001, 2021) for square in OWN for name in ("Oniscus asellus", "Porcellio scaber")
    ]  # fmt: skip
    around = ["species,reference,date,recorder"]
    around += [f"Philoscia muscorum,31UDQ{square}52,5/05/2010,B. Holt" for square in range(40, 46)]
    assert gapmap("new", folder)[0] == 0
    (folder / "records" / "own.csv").write_text("\n".join(own), encoding="utf-8")
    (folder / "wider.csv").write_text("\n".join(around), encoding="utf-8")
    settings = (folder / "area.toml").read_text(encoding="utf-8")
    told = f'[area]\nwider = ["wider.csv"]\n{listed}'
    (folder / "area.toml").write_text(settings.replace("[area]", told, 1), encoding="utf-8")
    code, _, complained = gapmap("expected", folder, "--grid", "utm", "--square", "1km")
    assert code == 0, complained
    return (folder / "maps" / "in-no-square-yet.csv").read_text(encoding="utf-8-sig")


def test_an_area_is_the_same_whether_its_squares_are_listed_or_only_recorded_in(
    tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]]
) -> None:
    """Packed squares of UTM take more bits than a floating number holds: none may pass through one."""
    listed = area_of(tmp_path / "listed", gapmap, f"squares = {OWN}".replace("'", '"'))
    assert "Philoscia muscorum" in listed
    assert area_of(tmp_path / "not listed", gapmap, "") == listed
