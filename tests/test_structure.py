"""The shape of the house: data flows one way, no module is crowded, the command line starts quickly."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent
PACKAGE = PROJECT / "gapmap"
MODULES = sorted(PACKAGE.rglob("*.py"))

#: Ground floor first; a room imports only from itself and from rooms before it. DEVELOPERS.md draws the same list.
ROOMS = [
    "errors",
    "columns",
    "typed",
    "settings",
    "grid",
    "records",
    "coverage",
    "expected",
    "checks",
    "visits",
    "outputs",
    "workflow",
    "cli",
]
#: Rooms that may delay an import of somebody else's heavy package until it is needed.
MAY_DELAY = {"cli", "outputs"}


def room_of(module: str) -> str:
    name = module.split(".")[1] if "." in module else "__init__"
    return "cli" if name == "__main__" else name


def module_name(path: Path) -> str:
    parts = path.relative_to(PROJECT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_names(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, "relative imports hide which room they reach into"
        if node.module == "gapmap":
            return [f"gapmap.{alias.name}" if alias.name in ROOMS else "gapmap" for alias in node.names]
        return [node.module or ""]
    return []


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_imports_go_up_the_list_only(path: Path) -> None:
    here = room_of(module_name(path))
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        for name in imported_names(node):
            if name.split(".")[0] != "gapmap" or name == "gapmap":
                continue
            there = room_of(name)
            assert here in ROOMS or here == "__init__", f"{path} stands in no room"
            if here != "__init__":
                assert ROOMS.index(there) <= ROOMS.index(here), f"{module_name(path)} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_nothing_of_ours_is_imported_inside_a_function(path: Path) -> None:
    here = room_of(module_name(path))
    for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        for node in ast.walk(function):
            for name in imported_names(node):
                ours = name.split(".")[0] == "gapmap"
                standard = name.split(".")[0] in sys.stdlib_module_names
                assert not ours, f"{module_name(path)}.{function.name} imports {name}"
                assert standard or here in MAY_DELAY, f"{module_name(path)}.{function.name} delays {name}"


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_no_module_is_crowded(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= 400, f"{module_name(path)} has {lines} lines: the room wants a redesign"


def test_help_loads_none_of_the_heavy_packages() -> None:
    script = (
        "import sys, runpy; sys.argv = ['gapmap', '--help']\n"
        "from gapmap.cli.app import app\n"
        "try: app(standalone_mode=False)\n"
        "except BaseException: pass\n"
        "heavy = {'pandas', 'numpy', 'duckdb', 'geopandas', 'folium', 'pydantic', 'rich', 'matplotlib'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=PROJECT)
    assert done.returncode == 0, f"gapmap --help loads {done.stderr}"
