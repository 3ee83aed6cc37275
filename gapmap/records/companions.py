"""Files that belong to another file and are read with it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePath

#: Endings of files that belong to a layer of the same name and are read with it.
COMPANIONS = {
    ".shp": (".dbf", ".shx", ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".qmd", ".qix", ".xml"),
    ".tab": (".dat", ".map", ".id", ".ind"),
    ".mif": (".mid",),
    ".gpkg": (".gpkg-wal", ".gpkg-shm"),
}


def companions_of(names: Iterable[str]) -> set[str]:
    """Those of some names of files that belong to another of them and are read with it.

    Examples
    --------
    >>> sorted(companions_of(["a/finds.shp", "a/finds.dbf", "a/finds.prj", "b/finds.dbf"]))
    ['a/finds.dbf', 'a/finds.prj']
    """
    kept = list(names)
    stems = {(PurePath(name).with_suffix("").as_posix(), PurePath(name).suffix.lower()) for name in kept}
    return {
        name
        for name in kept
        for main, endings in COMPANIONS.items()
        if PurePath(name).suffix.lower() in endings
        and any(
            (stem.as_posix(), main) in stems
            for stem in (PurePath(name).with_suffix(""), PurePath(name).with_suffix("").with_suffix(""))
        )
    }


def companions_beside(path: Path) -> list[Path]:
    """The companions that stand beside a file, in the order of their names."""
    if path.suffix.lower() not in COMPANIONS:
        return []
    return sorted(beside for beside in path.parent.iterdir() if str(beside) in companions_of([str(path), str(beside)]))
