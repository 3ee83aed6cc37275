"""Distances as people say them, no finer than a sensitive species may be told."""

from __future__ import annotations


def distance_words(metres: float, sensitive_m: int = 0, *, is_least: bool = False) -> str:
    """A distance as people say it.

    Parameters
    ----------
    metres
        The distance.
    sensitive_m
        Metres no finer than which the place of the species is told; 0 when it is not sensitive. Three exact distances
        would give a place away.
    is_least
        Whether it is the least that can be; that is not said of a sensitive species, which is told coarsely anyway.

    Examples
    --------
    >>> distance_words(600), distance_words(1414), distance_words(82_300), distance_words(997), distance_words(3)
    ('600 m', '1.4 km', '82 km', '1.0 km', 'less than 10 m')
    >>> distance_words(600, 10_000), distance_words(16_000, 10_000)
    ('less than 10 km', 'about 20 km')
    >>> [distance_words(metres, is_least=True) for metres in (600, 0)], distance_words(600, 10_000, is_least=True)
    (['at least 600 m', 'perhaps less than 10 m'], 'less than 10 km')
    """
    if sensitive_m:
        coarse = _plain(max(round(metres / sensitive_m), 1) * sensitive_m)
        return f"less than {coarse}" if metres < sensitive_m else f"about {coarse}"
    if metres < 10:
        return "perhaps less than 10 m" if is_least else "less than 10 m"
    return f"at least {_plain(metres)}" if is_least else _plain(metres)


def _plain(metres: float) -> str:
    if metres < 995:
        return f"{round(metres, -1):.0f} m"
    return f"{metres / 1000:.1f} km" if metres < 9_950 and metres % 10_000 else f"{metres / 1000:.0f} km"
