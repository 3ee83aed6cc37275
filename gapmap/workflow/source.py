"""What a command was given: an area folder, or bare files with options."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gapmap.columns import MEANINGS
from gapmap.errors import FileError, OutputError, SettingsError, what_was_wanted
from gapmap.outputs.whole import clear_drafts
from gapmap.records.companions import companions_of
from gapmap.settings import AreaSection, RecordsSection, Settings, read_settings
from gapmap.workflow.lock import FolderLock, lock_folder

#: Files that a system or a program leaves among those of people.
_LEFT_BEHIND = ("thumbs.db", "desktop.ini", "__macosx", "$recycle.bin")


@dataclass(frozen=True)
class Source:
    """Record files with the settings to read them by.

    Parameters
    ----------
    folder
        The area folder; None when bare files were given.
    files
        Record files in their order.
    settings
        Settings of the area, with the options of the command on top.
    lock
        Keeps other runs out of the area folder while this source is in use.
    """

    folder: Path | None
    files: tuple[Path, ...]
    settings: Settings
    lock: FolderLock | None = field(default=None, repr=False, compare=False)

    def beside_area_file(self, name: str) -> Path | None:
        """The file that a setting names, looked for in the area folder; None when the setting is empty."""
        if not name:
            return None
        path = (self.folder or Path()) / name
        if not path.exists():
            raise FileError(
                "A file named in the area's settings is not there",
                found=name,
                do="put it into the area folder or take the setting out",
            )
        return path


def open_source(sources: Sequence[str], options: Mapping[str, str | None] | None = None) -> Source:
    """Find the files and settings that a command is to work on.

    Parameters
    ----------
    sources
        One area folder, or any number of files (``*`` and ``?`` are filled in where the terminal did not).
    options
        ``square``, ``classes``, ``grid``, ``zone``, ``columns`` and ``name`` as typed; None where not given.

    Raises
    ------
    FileError
        A file or folder is not there, or holds nothing to read.
    SettingsError
        The area file or an option cannot be used.
    GapmapError
        Another run is at work in the area folder.
    """
    given = {name: text for name, text in (options or {}).items() if text is not None}
    whole = " ".join(sources)
    if len(sources) > 1 and Path(whole).exists() and not all(Path(text).exists() for text in sources):
        raise FileError("A name with a space in it is taken for several", do=f'put it in quotation marks: "{whole}"')
    paths = [path for text in sources for path in _filled_in(text)]
    folders = [path for path in paths if path.is_dir()]
    if folders:
        if len(paths) > 1:
            raise FileError("Give either one area folder or files, not both", found=" ".join(sources))
        folder = folders[0]
        settings = _with_options(read_settings(folder / "area.toml"), given)
        lock = lock_folder(folder)
        if lock is not None:
            clear_drafts(folder / "maps")
        return Source(folder, _files_in(folder), settings, lock)
    name = given.get("name") or _words(paths[0].stem)
    return Source(None, tuple(paths), _with_options(Settings(), {**given, "name": name}))


def output_folder(source: Source, out: Path | None) -> Path:
    """Where results go: ``--out``, else the area folder's maps/.

    Raises
    ------
    OutputError
        Bare files were given without ``--out``, or the results would land among the original records.
    """
    if out is None:
        if source.folder is None:
            raise OutputError("Say where the results are to go", do="add --out and a folder, such as --out maps")
        return source.folder / "maps"
    if source.folder is not None and out.resolve().is_relative_to((source.folder / "records").resolve()):
        raise OutputError(
            "Results never go among the original records",
            found=str(out),
            do="choose another folder with --out",
        )
    return out


def _filled_in(text: str) -> list[Path]:
    path = Path(text).expanduser()
    if path.exists():
        return [path]
    if any(letter in path.name for letter in "*?") and path.parent.is_dir():
        found = sorted(path.parent.glob(path.name))
        if found:
            return found
    raise FileError(
        "There is no such file or folder",
        found=text,
        do="check the spelling, or drag the file onto the terminal window to get its full name",
    )


def _files_in(folder: Path) -> tuple[Path, ...]:
    records = folder / "records"
    if not records.is_dir():
        raise FileError(
            f"The area folder {folder.name} has no records folder",
            do="make a folder called records in it and put the files there",
        )
    found = sorted(path for path in records.rglob("*") if path.is_file() and not _is_left_behind(path, records))
    companions = companions_of(str(path) for path in found)
    files = tuple(path for path in found if str(path) not in companions)
    if not files:
        raise FileError(
            f"The folder {records.name} of {folder.name} holds no record files",
            do="put the files people sent into it",
        )
    return files


def _is_left_behind(path: Path, records: Path) -> bool:
    """Whether a file, or a folder it lies in, is hidden or a system's own: a bin of deleted files is hidden too."""
    parts = path.relative_to(records).parts
    return any(part.startswith((".", "~$")) or part.lower() in _LEFT_BEHIND for part in parts)


def _with_options(settings: Settings, options: Mapping[str, str]) -> Settings:
    area = settings.area.model_dump()
    for name in ("square", "classes", "grid", "name"):
        if name in options:
            area[name] = options[name]
    if "zone" in options:
        area["zones"] = tuple(z.strip().upper() for z in re.split(r"[,\s]+", options["zone"]) if z.strip())
        area["grid"] = area["grid"] or "utm"
    records = settings.records.model_dump()
    if "columns" in options:
        records["columns"] = {**records["columns"], **_pairs(options["columns"])}
    return settings.model_copy(
        update={"area": _checked(AreaSection, area), "records": _checked(RecordsSection, records)}
    )


def _checked(section: type[Any], values: dict[str, Any]) -> Any:
    try:
        return section.model_validate(values)
    except ValueError as error:
        first = error.errors()[0]  # type: ignore[attr-defined]
        inner = first.get("ctx", {}).get("error")
        if isinstance(inner, SettingsError):
            raise inner from error
        raise SettingsError(
            f"The option {'.'.join(map(str, first['loc']))} cannot be this value",
            found=first.get("input"),
            do=what_was_wanted(first["type"], first.get("ctx", {})),
        ) from error


def _pairs(text: str) -> dict[str, str]:
    pairs = {}
    for part in text.split(","):
        meaning, equals, header = part.partition("=")
        if not equals or not meaning.strip() or not header.strip():
            raise SettingsError(
                "Columns are said as meaning=header pairs",
                found=part.strip(),
                do='write --columns "species=Taxon, reference=Square"',
            )
        if meaning.strip().lower() not in MEANINGS:
            raise SettingsError(
                "There is no such meaning for a column", found=meaning.strip(), do=f"use one of {', '.join(MEANINGS)}"
            )
        pairs[meaning.strip().lower()] = header.strip()
    return pairs


def _words(stem: str) -> str:
    return re.sub(r"[_\s]+", " ", stem).strip() or "Records"
