"""Seconds and peak memory of a piece of work, each in a process of its own, and the table they are shown in."""

from __future__ import annotations

import importlib
import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Case:
    """One line of the table.

    Parameters
    ----------
    what
        The work, in words.
    ours, beside
        ``module:function`` of this project's way and of the other way; the function takes the words and returns
        whatever tells that both did the same work (numbers by name).
    words
        What the functions are given.
    other
        Name of the other way.
    goal
        The goal in words.
    runs
        How often each is run; the quickest counts.
    """

    what: str
    ours: str
    beside: str
    words: tuple[str, ...]
    other: str
    goal: str
    runs: int = 3


@dataclass(frozen=True)
class Measured:
    """Wall seconds, processor seconds, peak memory in MB, and what the work returned."""

    seconds: float
    processor: float
    peak_mb: float
    answer: dict[str, float]


def measure(function: str, words: tuple[str, ...], runs: int = 1) -> Measured:
    """The quickest of some runs, each in a fresh process; imports are not counted."""
    found = []
    for _ in range(runs):
        done = subprocess.run(
            [sys.executable, __file__, function, *words], capture_output=True, text=True, check=False,
            env={**os.environ, "PYTHONPATH": str(PROJECT)}, cwd=Path(__file__).parent,
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{function} {' '.join(words)}\n{done.stderr[-2000:]}")
        found.append(Measured(**json.loads(done.stdout.splitlines()[-1])))
    return min(found, key=lambda one: one.seconds)


def run_here(function: str, words: list[str]) -> Measured:
    """Import, make the data that the module wants ready, then run once in this process."""
    module, name = function.split(":")
    place = importlib.import_module(module)
    work = getattr(place, name)
    getattr(place, "prepare", lambda: None)()
    start, before = time.perf_counter(), _processor_seconds()
    answer = work(*words)
    seconds, processor = time.perf_counter() - start, _processor_seconds() - before
    peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    return Measured(seconds, processor, peak, answer or {})


def _processor_seconds() -> float:
    """Of this process and of those it has started and seen end."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def show(case: Case) -> None:
    """Measure both ways and print the line."""
    ours = measure(case.ours, case.words, case.runs)
    line = f"{case.what:52}{ours.seconds:9.2f} s {ours.processor:8.1f} s {ours.peak_mb:8,.0f} MB"
    if case.beside:
        other = measure(case.beside, case.words, case.runs)
        line += f"   {case.other:28}{other.seconds:9.2f} s {other.processor:8.1f} s {other.peak_mb:8,.0f} MB"
        line += f"{other.seconds / ours.seconds:8.2f}x"
        shared = {name: (ours.answer[name], other.answer[name]) for name in ours.answer if name in other.answer}
        line += "   " + ", ".join(
            f"{name} {a:,.0f}" if a == b else f"{name} {a:,.0f} / {b:,.0f}" for name, (a, b) in shared.items()
        )
    print(line + f"   goal: {case.goal}", flush=True)


HEADING = (
    f"{'what':52}{'time':>11} {'processor':>10} {'peak':>11}   {'beside':28}{'time':>11} {'processor':>10} {'peak':>11}"
    f"{'ratio':>9}   the same answer (ours / other where they differ)"
)

if __name__ == "__main__":
    print(json.dumps(vars(run_here(sys.argv[1], sys.argv[2:]))))
