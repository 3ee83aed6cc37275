"""Kills at random moments of a command, until enough of them have landed in a run that was alive."""

from __future__ import annotations

import random
import signal
import statistics
import time
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
        Seconds that some runs left alone took; moments are drawn up to the middle value of the last three, and
        runs that come to their end add to them, for a machine has its moods.
    seed
        Of the moments.
    late
        Whether every second moment is in the last third, where a short command writes.
    """

    def __init__(self, what: str, lasted: list[float], seed: int, *, late: bool = False) -> None:
        self.what, self.lasted = what, list(lasted)
        self.lot, self.late = random.Random(seed), late
        self.attempts = 0
        self.fell: list[float] = []

    def moments(self) -> Iterator[float]:
        """Seconds after the start of the next run, until enough kills have landed."""
        while len(self.fell) < WANTED:
            assert self.attempts < WANTED * PATIENCE, f"too few kills land in a living run: {self}"
            self.attempts += 1
            early = 2 / 3 if self.late and self.attempts % 2 else 0.0
            yield self.lot.uniform(early, 1.0) * self.length()

    def length(self) -> float:
        """Seconds that a run left alone takes these days."""
        return statistics.median(self.lasted[-3:])

    def leave_alone(self, start: Callable[[], Run]) -> Run:
        """Let a run come to its end, which must be a good one."""
        began = time.monotonic()
        run = start()
        assert run.code == 0, run.text
        self.lasted.append(time.monotonic() - began)
        return run

    def kill(self, start: Callable[[float], Run], moment: float) -> Run:
        """Start a run that is killed at a moment, and note whether the kill came before its end.

        A run that was not killed must have succeeded.
        """
        began = time.monotonic()
        run = start(moment)
        if run.code == -signal.SIGKILL:
            self.fell.append(moment / self.length())
        else:
            assert run.code == 0, run.text
            self.lasted.append(time.monotonic() - began)
        return run

    def __str__(self) -> str:
        tenths = [sum(int(share * 10) == tenth for share in self.fell) for tenth in range(10)]
        return (
            f"{self.what}: {self.attempts} attempts, {len(self.fell)} kills in a living run; by tenths of the time that a "
            f"run left alone took ({min(self.lasted):.2f} to {max(self.lasted):.2f} s): {' '.join(map(str, tenths))}"
        )
