"""Every command ends in words, whatever little an area holds: no record, one, dates that say next to nothing.

The areas are drawn by seed, so that one that failed can be drawn again. Eight areas; 200 with GAPMAP_LONG_TESTS=1.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

import pytest

Run = Callable[..., tuple[int, str, str]]
IS_LONG = bool(os.environ.get("GAPMAP_LONG_TESTS"))
AREAS = 200 if IS_LONG else 8
#: A warning of a library would stand on the person's screen.
pytestmark = [pytest.mark.timeout(600), pytest.mark.filterwarnings("error")]

HEADER = ("Species", "Grid ref", "Date", "Recorder", "Method", "Time")
SPECIES = (
    "Aglais io", "Aglais urticae", "Oniscus asellus", "Carabus sp.", "Porcellio cf. scaber", "Trichoniscus pusillus agg.",
)  # fmt: skip
PLACES = ("OR47", "OR4672", "OR467723", "OR47P", "NT2573", "J3374", "31UFS12", "", "SV9112", "OR12345678")
DATES = (
    "12/05/1998", "1950-1975", "pre-1960", "June 2003", "2015", "", "2020-07-03", "1970s", "19th century",
    "Summer 1995", "3/4/2026", "2021-06-01T23:30",
)  # fmt: skip
PEOPLE = ("A. Marsh", "B. Holt & A. Marsh", "", "Anon", "Ann Marsh")
VOLUNTEERS = (
    "name,home,days,travel\nA. Marsh,OR4672,2,30 km\n",
    "name,home,days,travel,night\nA. Marsh,OR4672,2026-06-12,5 km,yes\nB. Holt,,1,\n",
    "name,home,days,travel\n",
)
SQUARES = ("OR47P", "OR4172", "OR47", "XX12")
COMMANDS = (
    ("check",), ("coverage",), ("expected",), ("backtest", "--until", "2005"), ("range",), ("visits",),
    ("plate", "--of", "standing"), ("range", "--record", "Aglais io, OR4672, 12 May 2026"),
    ("expected", "--species", "Aglais io"),
)  # fmt: skip
LONG_COMMANDS = (("atlas",), ("report",))


def draw_area(gapmap: Run, folder: Path, draw: Random) -> None:
    """An area folder with few records, perhaps other squares or classes, and perhaps volunteers."""
    assert gapmap("new", folder)[0] == 0
    species, places, dates = (draw.sample(each, draw.randint(1, len(each))) for each in (SPECIES, PLACES, DATES))
    is_local = draw.random() < 0.7
    with (folder / "records" / "some.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(HEADER)
        for _ in range(draw.choice((0, 1, 2, 5, 30, 200))):
            near = f"OR4{draw.randint(0, 3)}7{draw.randint(0, 3)}"
            where = near if is_local else draw.choice(places)
            how = draw.choice(("", "net", "by torch")), draw.choice(("", "22:30", "10:00"))
            writer.writerow((draw.choice(species), where, draw.choice(dates), draw.choice(PEOPLE), *how))
    settings = folder / "area.toml"
    text = settings.read_text(encoding="utf-8")
    if draw.random() < 0.3:
        text = text.replace('square = "2km"', f'square = "{draw.choice(("1km", "5km", "10km"))}"')
    if draw.random() < 0.3:
        classes = draw.choice(("-2000, 2001-", "-1999, 2010-2015", "2020-"))
        text = text.replace('# classes = "-2000, 2001-2015, 2016-"', f'classes = "{classes}"')
    settings.write_text(text, encoding="utf-8")
    if draw.random() < 0.5:
        (folder / "volunteers.csv").write_text(draw.choice(VOLUNTEERS), encoding="utf-8")


@pytest.mark.parametrize("seed", range(AREAS))
def test_every_command_ends_in_words(gapmap: Run, tmp_path: Path, seed: int) -> None:
    draw = Random(seed)
    area = tmp_path / "area"
    draw_area(gapmap, area, draw)
    square = draw.choice(SQUARES)
    commands: Sequence[Sequence[object]] = (
        *((name, area, *options) for name, *options in (*COMMANDS, *(LONG_COMMANDS if IS_LONG or seed < 2 else ()))),
        ("square", square, area), ("expected", area, "--square-ref", square),
    )  # fmt: skip
    for words in commands:
        code, out, err = gapmap(*words)
        assert code in (0, 2), f"{words}\n{out}\n{err}"
        assert "Traceback" not in out + err
        assert "could not be written" not in err, f"{words}\n{err}"
        assert out.strip() if code == 0 else err.startswith("gapmap: ")
