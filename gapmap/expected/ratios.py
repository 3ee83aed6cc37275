"""How much oftener than on average a species is found under some condition: a month, an hour, a method.

In every table here a row is a condition, and the first row stands for "not said", which stays 1.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

#: Finds that a condition must outweigh before it differs from what is expected of it.
CAUTION = 4.0


def drawn_to_group(finds: Numbers, lists: Numbers, *, smooth: bool) -> Numbers:
    """Finds over what so many lists would bring were all conditions alike, drawn towards what the group finds then.

    Parameters
    ----------
    finds
        R × K, all of one group.
    lists
        R: lists about the group.
    smooth
        Whether neighbouring rows are alike, as months are; the last row is then a neighbour of the second.

    Returns
    -------
    R × K.

    Examples
    --------
    >>> finds, lists = np.array([[0.0, 0], [90, 2], [10, 0]]), np.array([0.0, 100, 100])
    >>> drawn_to_group(finds, lists, smooth=False).round(2).tolist()
    [[1.0, 1.0], [1.8, 1.82], [0.21, 0.24]]
    """
    together = _ratio(finds.sum(axis=1, keepdims=True), lists, smooth=smooth)
    return together * _ratio(finds, lists, smooth=smooth, even=together)


def beyond_the_first(held: Numbers, lists: Numbers, *, smooth: bool) -> Numbers:
    """How much more a visit brings under each condition than the lists made then say by themselves.

    A list is made only where something was found, and many hold the one thing that somebody noticed. What lists hold
    *beyond their first species* tells a poor time from a good one; were all searches written down, found or not, their
    lengths would say the same (exactly so where lengths are spread geometrically).

    Parameters
    ----------
    held
        R: species on all lists together.
    lists
        R: lists.
    smooth
        As for :func:`drawn_to_group`.

    Returns
    -------
    R: what a ratio of finds on lists is to be multiplied by.

    Examples
    --------
    >>> beyond_the_first(np.array([0.0, 500, 150]), np.array([0.0, 100, 100]), smooth=False).round(2).tolist()
    [1.0, 1.15, 0.5]
    """
    beyond = _ratio((held - lists)[:, None], lists, smooth=smooth)
    answer: Numbers = (beyond / _ratio(held[:, None], lists, smooth=smooth))[:, 0]
    return answer


def _ratio(finds: Numbers, lists: Numbers, *, smooth: bool, even: Numbers | float = 1.0) -> Numbers:
    """Found over expected (and over ``even``)."""
    ratio = np.ones_like(finds)
    known, made = finds[1:], lists[1:]
    if made.sum() == 0:
        return ratio
    rate = known.sum(axis=0) / made.sum()
    expected = made[:, None] * rate
    if smooth:
        known = known + 0.25 * (np.roll(known, 1, axis=0) + np.roll(known, -1, axis=0))
        expected = expected + 0.25 * (np.roll(expected, 1, axis=0) + np.roll(expected, -1, axis=0))
    ratio[1:] = (known + CAUTION) / (expected * np.broadcast_to(even, ratio.shape)[1:] + CAUTION)
    return ratio
