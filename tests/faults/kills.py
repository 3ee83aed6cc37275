"""Kills at random moments of a command, until enough of them have landed in a run that was alive."""

from __future__ import annotations

import random
import signal
import statistics
from collections.abc import Callable, Iterator

from fault_runs import IS_LONG, Run

#: Kills that must land in a living run of each command.
WANTED = 50 if IS_LONG else 4
#: Attempts to a kill that must land; a test that cannot reach its kills in so many fails.
PATIENCE = 4


class Kills:
    """Moments to kill at, over the length of a run left alone, and where the kills fell.

    Parameters
    ----------
    what
        The command in words.
    lasted
        Seconds that some runs left alone took; moments are drawn up to their middle value.
    seed
        Of the moments.
    late
        Whether every second moment is in the last third, where a short command writes.
    """

    def __init__(self, what: str, lasted: list[float], seed: int, *, late: bool = False) -> None:
        self.what, self.lasted = what, statistics.median(lasted)
        self.lot, self.late = random.Random(seed), late
        self.attempts = 0
        self.fell: list[float] = []

    def moments(self) -> Iterator[float]:
        """Seconds after the start of the next run, until enough kills have landed."""
        while len(self.fell) < WANTED:
            assert self.attempts < WANTED * PATIENCE, f"too few kills land in a living run: {self}"
            self.attempts += 1
            yield self.lot.uniform(self.lasted * 2 / 3 if self.late and self.attempts % 2 else 0, self.lasted)

    def kill(self, start: Callable[[float], Run], moment: float) -> Run:
        """Start a run that is killed at a moment, and note whether the kill came before its end.

        A run that was not killed must have succeeded.
        """
        run = start(moment)
        if run.code == -signal.SIGKILL:
            self.fell.append(moment / self.lasted)
        else:
            assert run.code == 0, run.text
        return run

    def __str__(self) -> str:
        tenths = [sum(int(share * 10) == tenth for share in self.fell) for tenth in range(10)]
        return (
            f"{self.what}: {self.attempts} attempts, {len(self.fell)} kills in a living run; by tenths of the "
            f"{self.lasted:.2f} s that a run left alone takes: {' '.join(str(number) for number in tenths)}"
        )
