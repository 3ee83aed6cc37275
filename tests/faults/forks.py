"""Runs of ``gapmap`` that start in a hundredth of a second: everything is imported once, then forked for each run.

A run is a process of its own, as if started from a terminal, so it can be killed at any moment. The parent talks in
lines of JSON: ``{"words": [...], "output": path, "environment": {...}}`` in; ``{"pid": n}`` out at once, and
``{"code": n}`` when the run has ended (minus the signal when it was killed).
"""

from __future__ import annotations

import gc
import json
import os
import sys
import time

import branca
import folium
import rasterio
import xlsxwriter

import gapmap.workflow.check
import gapmap.workflow.coverage
import gapmap.workflow.decide
import gapmap.workflow.report
from gapmap.cli.app import main

#: What a run would import by itself.
READY = (branca, folium, rasterio, xlsxwriter, gapmap)


def run(words: list[str], output: str, environment: dict[str, str], folder: str) -> None:
    """Become the run; never returns."""
    handle = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    os.environ.update(environment)
    time.tzset()
    os.chdir(folder)
    sys.argv = ["gapmap", *words]
    code = 1
    try:
        main()
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else 1 if stop.code else 0
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
    gc.collect()  # connections close and take their temporary folders with them, as at the end of a program
    sys.exit(code)


def serve() -> None:
    """Fork a run for every line until there are no more."""
    print("ready", flush=True)
    while line := sys.stdin.readline():
        asked = json.loads(line)
        child = os.fork()
        if child == 0:
            run(asked["words"], asked["output"], asked["environment"], asked["folder"])
        print(json.dumps({"pid": child}), flush=True)
        _, status = os.waitpid(child, 0)
        print(json.dumps({"code": os.waitstatus_to_exitcode(status)}), flush=True)


if __name__ == "__main__":
    serve()
