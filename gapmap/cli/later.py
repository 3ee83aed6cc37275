"""Modules that are loaded when they are first used, so that ``gapmap --help`` answers at once."""

from __future__ import annotations

import importlib.util
import sys
from types import ModuleType


def later(name: str) -> ModuleType:
    """Give a module whose code runs at the first look inside it.

    Parameters
    ----------
    name
        Full dotted name, such as ``gapmap.workflow``.

    Raises
    ------
    ModuleNotFoundError
        There is no module of that name.
    """
    if name in sys.modules:
        return sys.modules[name]
    specification = importlib.util.find_spec(name)
    if specification is None or specification.loader is None:
        raise ModuleNotFoundError(name)
    specification.loader = importlib.util.LazyLoader(specification.loader)
    module = importlib.util.module_from_spec(specification)
    sys.modules[name] = module
    specification.loader.exec_module(module)
    package, _, word = name.rpartition(".")
    if package:
        setattr(sys.modules[package], word, module)
    return module
