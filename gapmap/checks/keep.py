"""What is known, kept in one file and found again: numbers as they lie in memory, everything else as plain text.

The file is the length of its text (eight bytes), the text (JSON: what there is, and the kind and shape of each array),
then the arrays. Nothing in it can run: arrays are numbers, and only the classes named here are made again.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.habits import HabitTable
from gapmap.checks.keyed import Counts, Lookup
from gapmap.checks.known import Known
from gapmap.checks.layers import Layers
from gapmap.checks.oddness import Spacing
from gapmap.checks.odds import Odds
from gapmap.checks.slips import Explained, FirstLook, Search
from gapmap.checks.spread import Spread
from gapmap.grid.systems import System, system_of
from gapmap.settings import Settings

#: Changes when what is kept does.
FORM = 4
#: Bytes from one place where something may begin to the next.
_STEP = 8
_CLASSES = {
    one.__name__: one
    for one in (
        Counts,
        Evidence,
        Explained,
        FirstLook,
        HabitTable,
        Known,
        Layers,
        Lookup,
        Odds,
        Search,
        Spacing,
        Spread,
    )
}


def keep_known(known: Known, people: pd.DataFrame, path: Path) -> None:
    """Write what is known, and who the people are, to a file that is new."""
    arrays: list[np.ndarray] = []
    tree = _apart({"known": known, "people": people}, arrays)
    text = json.dumps([FORM, tree, [[array.dtype.str, array.shape] for array in arrays]]).encode()
    with path.open("wb") as handle:
        for part in (len(text).to_bytes(_STEP, "little"), text, *(array.tobytes() for array in arrays)):
            handle.write(part.ljust(_up_to_step(len(part)), b" "))


def find_known(path: Path) -> tuple[Known, pd.DataFrame] | None:
    """What keep_known wrote; None when there is no such file or it cannot be used."""
    try:
        whole = np.fromfile(path, dtype=np.uint8)
        length = int.from_bytes(whole[:_STEP].tobytes(), "little")
        form, tree, plan = json.loads(whole[_STEP : _STEP + length].tobytes())
        if form != FORM:
            return None
        found = _together(tree, _arrays(whole, _STEP + _up_to_step(length), plan))
        return found["known"], found["people"]
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return None


def _arrays(whole: np.ndarray, start: int, plan: Sequence[tuple[str, Sequence[int]]]) -> list[np.ndarray]:
    """The arrays that lie in the bytes of a file from a place on."""
    arrays = []
    for kind, shape in plan:
        dtype = np.dtype(kind)
        size = dtype.itemsize * int(np.prod(shape))
        arrays.append(whole[start : start + size].view(dtype).reshape(shape))
        start += _up_to_step(size)
    return arrays


def _up_to_step(size: int) -> int:
    return -(-size // _STEP) * _STEP


def _apart(value: Any, arrays: list[np.ndarray]) -> Any:
    """A value as a tree of plain things, with its arrays put aside."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, np.ndarray):
        if value.dtype.kind == "O":
            return {"is": "texts", "of": [str(one) for one in value]}
        arrays.append(value)
        return {"is": "array", "of": len(arrays) - 1}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, list | tuple):
        return {"is": type(value).__name__, "of": [_apart(one, arrays) for one in value]}
    if isinstance(value, dict):
        return {"is": "dict", "of": [[_apart(key, arrays), _apart(one, arrays)] for key, one in value.items()]}
    if isinstance(value, pd.Index):
        return {"is": "index", "of": _apart(value.to_numpy(), arrays)}
    if isinstance(value, pd.DataFrame):
        kinds = {str(name): str(kind) for name, kind in value.dtypes.items()}
        columns = {str(name): _apart(_plain(column), arrays) for name, column in value.items()}
        return {"is": "frame", "of": columns, "kinds": kinds}
    if isinstance(value, System):
        return {"is": "system", "of": value.key}
    if isinstance(value, Settings):
        return {"is": "settings", "of": value.model_dump_json()}
    if isinstance(value, Path):
        return {"is": "path", "of": str(value)}
    if type(value).__name__ in _CLASSES:
        parts = {name: _apart(part, arrays) for name, part in vars(value).items() if not _is_left_out(value, name)}
        if isinstance(value, Evidence):
            parts["records"] = _apart(value.records.head(0), arrays)
        return {"is": "one", "class": type(value).__name__, "of": parts}
    raise TypeError(f"a {type(value).__name__} cannot be kept")


def _together(tree: Any, arrays: list[np.ndarray]) -> Any:
    if not isinstance(tree, dict):
        return tree
    kind, held = tree["is"], tree["of"]
    if kind == "array":
        return arrays[held]
    if kind == "texts":
        return np.array(held, dtype=object)
    if kind in ("list", "tuple"):
        return (list if kind == "list" else tuple)(_together(one, arrays) for one in held)
    if kind == "dict":
        return {_together(key, arrays): _together(one, arrays) for key, one in held}
    if kind == "index":
        return pd.Index(_together(held, arrays))
    if kind == "frame":
        columns = {name: _together(column, arrays) for name, column in held.items()}
        return pd.DataFrame(columns).astype(tree["kinds"])
    if kind == "system":
        return system_of(held)
    if kind == "settings":
        return Settings.model_validate_json(held)
    if kind == "path":
        return Path(held)
    return _made_again(_CLASSES[tree["class"]], {name: _together(part, arrays) for name, part in held.items()})


def _made_again(kind: type, parts: dict[str, Any]) -> Any:
    one: Any = object.__new__(kind)
    for name, part in parts.items():
        object.__setattr__(one, name, part)
    if isinstance(one, Known) and one.search is not None:
        object.__setattr__(one.search, "evidence", one.evidence)
    return one


def _is_left_out(value: Any, name: str) -> bool:
    """Trees grow again when they are needed, and what repairs are searched with is the evidence that is known."""
    return (isinstance(value, Layers) and name == "tree") or (isinstance(value, Search) and name == "evidence")


def _plain(column: pd.Series) -> np.ndarray:
    """A column as numbers, or as objects when it holds texts."""
    return column.to_numpy() if column.dtype.kind in "biufM" else column.to_numpy(object)
