"""What is known of a species on the move (measured in spreading.py)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Spread:
    """Speed of a species' edge in metres a year with its 95 % interval, and where it is heading."""

    speed: float
    low: float
    high: float
    heading: str

    @property
    def is_expanding(self) -> bool:
        """Whether the whole interval lies above standing still."""
        return self.low > 0
