"""The words a square can stand in."""

from __future__ import annotations

NOT_VISITED, CASUAL, BEGUN, PART = "not visited", "casual records only", "begun", "part covered"
WELL, POOR, STALE, UNKNOWN = "well covered", "thoroughly covered and poor", "gone stale", "can't say"
#: From least to most done, and the two that stand apart.
STANDINGS = (NOT_VISITED, CASUAL, BEGUN, PART, WELL, POOR, STALE, UNKNOWN)
