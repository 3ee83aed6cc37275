"""Makes the invented island: the area folder ``demo/area`` and the truth behind it, ``demo/truth``.

python demo/make.py            into demo/area and demo/truth, unless they are up to date
python demo/make.py FOLDER     into FOLDER/area and FOLDER/truth, anew

The same bytes every time. What is made and how: demo/README.md.
"""

from __future__ import annotations

import hashlib
import shutil
import sys
import tempfile
import time
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parent):
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

from island import files, layers, lookups  # noqa: E402
from island.archive import TERMS, archive_rows  # noqa: E402
from island.mistakes import make_mistakes  # noqa: E402
from island.sheets import Sheet, make_sheets  # noqa: E402
from island.terrain import ISLAND, ISLET_CENTRE, NOTICE  # noqa: E402
from island.truth import write_truth  # noqa: E402
from island.whole import Land, make_land, make_notes  # noqa: E402
from island.writing import ARCHIVE, references  # noqa: E402

ARCHIVE_FILE = "archive 1966-1999.zip"


def make(folder: Path) -> None:
    """Make ``area`` and ``truth`` inside the folder; what stood there before is replaced when all is ready."""
    land = make_land()
    visits, notes = make_notes(land)
    sheets, mistakes, odd = make_mistakes(make_sheets(notes, land.fauna), land.terrain, land.fauna)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=".making-") as name:
        area, truth = Path(name) / "area", Path(name) / "truth"
        for part in (area / "records", area / "lookups", area / "background", area / "rasters", truth):
            part.mkdir(parents=True)
        files.write_darwin_core(
            area / "records" / ARCHIVE_FILE, TERMS, archive_rows(notes[notes["file"] == ARCHIVE], land.fauna)
        )
        write_record_files(area / "records", sheets)
        write_beside(area, land)
        write_truth(truth, land.fauna, visits, notes, sheets, mistakes, odd, ARCHIVE_FILE)
        for part in (area, truth):
            if (folder / part.name).exists():
                shutil.rmtree(folder / part.name)
            part.replace(folder / part.name)


def ready(folder: Path = HERE) -> Path:
    """Make the island unless it stands there already, made by this very generator; return the area folder.

    Two callers at once: the second waits for the first.
    """
    stamp, lock = folder / "truth" / "made-from", folder / ".making"
    wanted = generator_hash()
    until = time.monotonic() + 600
    while not (stamp.exists() and stamp.read_text(encoding="utf-8") == wanted):
        try:
            lock.mkdir(parents=True)
        except FileExistsError:
            if time.monotonic() > until:
                raise TimeoutError(
                    f"another run has been making the island for ten minutes; if none is, remove {lock}"
                ) from None
            time.sleep(0.5)
            continue
        try:
            make(folder)
            stamp.write_text(wanted, encoding="utf-8")
        finally:
            lock.rmdir()
    return folder / "area"


def generator_hash() -> str:
    """A hash over the generator's own files and the libraries' versions that shape its bytes."""
    text = hashlib.sha256()
    for path in sorted([*(HERE / "island").glob("*.py"), *(HERE / "island").glob("*.csv"), Path(__file__)]):
        text.update(path.read_bytes())
    for library in ("numpy", "scipy", "pandas", "pyarrow", "rasterio", "shapely", "pyogrio", "xlsxwriter"):
        text.update(f"{library} {version(library)}".encode())
    return text.hexdigest()


def write_record_files(folder: Path, sheets: list[Sheet]) -> None:
    """Write the society's table and those of the four recorders, each as its keeper would send it."""
    society, field, nights, quellick, fennimar, vastrey = sheets
    files.write_sheet_csv(folder / society.file, society)
    titles = [
        f"Ground invertebrates of {ISLAND}, T. Orrowby (invented)",
        "please ask me before passing these on",
    ]
    remarks = [
        NOTICE,
        "Field: walks by day. Town nights: walls and gardens with a torch.",
        "♂ male, ♀ female, juv young",
    ]
    files.write_workbook(folder / field.file, [field, nights], titles, remarks)
    files.write_sheet_csv(folder / quellick.file, quellick, delimiter=";", encoding="cp1252")
    files.write_open_document(folder / fennimar.file, fennimar)
    files.write_sheet_csv(folder / vastrey.file, vastrey, encoding="utf-8-sig")


def write_beside(area: Path, land: Land) -> None:
    """Write what stands beside the records: area file, lookups, volunteers, layers and rasters."""
    layers.write_layers(area / "background", land.terrain, land.roads, land.rivers)
    layers.write_rasters(area / "rasters", land.terrain)
    files.write_csv(area / "lookups" / "checklist.csv", *lookups.checklist_table(land.fauna))
    files.write_csv(area / "lookups" / "places.csv", *lookups.places_table(land.places))
    files.write_csv(area / "lookups" / "people.csv", *lookups.people_table())
    files.write_csv(area / "volunteers.csv", *lookups.volunteers_table(land.terrain))
    easting, northing = ISLET_CENTRE
    islet = references([easting], [northing], [2000]).tolist()
    (area / "area.toml").write_text(lookups.area_file(islet), encoding="utf-8", newline="\n")
    (area / "README.txt").write_text(
        f"{NOTICE}\nMade by demo/make.py; demo/README.md tells how.\n", encoding="utf-8", newline="\n"
    )


if __name__ == "__main__":
    started = time.perf_counter()
    if len(sys.argv) > 1:
        make(Path(sys.argv[1]))
    else:
        ready()
    print(f"{NOTICE}\nReady after {time.perf_counter() - started:.0f} s.")
