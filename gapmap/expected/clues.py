"""The clues that bear on whether a species will be found in a square, each a number on the same scale.

Every clue is a natural log: what so many finds are multiplied by. The species' own curve says how often it is
found for so much effort; the others say how far this square differs from the average one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gapmap.expected.company import likes_company
from gapmap.expected.curves import (
    POWER,
    Effort,
    HeavyTail,
    bin_effort,
    bin_lists,
    heavy_tail,
    power_of_effort,
    rates,
)
from gapmap.expected.evidence import Evidence
from gapmap.expected.spots import found_close_by
from gapmap.expected.surroundings import more_than_likely, of_like_ground, sum_around

Numbers = npt.NDArray[np.float64]

#: Reach in squares and caution in finds of the near and the far neighbourhood.
NEAR, FAR = (2.0, 2.0), (6.0, 4.0)
#: Share of the heavy-tailed curve in a species' own curve, and the power of effort it has on average.
TAIL, _TAIL_POWER = 0.4, 0.8
#: The lists to come bring finds by this share of the power that the richness of squares has followed.
_COMING = 0.85
#: Neighbourhood from which company is told apart, in squares.
_MIDDLE = 4.0


@dataclass(frozen=True)
class Clues:
    """Clues for S squares × K species, and the curves behind them.

    Parameters
    ----------
    context
        7 × S × K: near, far, close, rise, company, ground, inside.
    rate, tail
        Of K species: natural log of the rate, and the heavy-tailed curve.
    power
        Of effort, for the number of lists to come.
    likely, found, around_likely
        S × K: chance to be found by effort alone, 1 where found, and the sum of the former over the near neighbours.
    friends
        K × up to 12: positions of the companions of each species, padded with −1.
    """

    context: Numbers
    rate: Numbers
    tail: HeavyTail
    power: float
    likely: Numbers
    found: Numbers
    around_likely: Numbers
    friends: npt.NDArray[np.int64]

    def curve(self, lists: Numbers, usual: float) -> Numbers:
        """S × K: the species' own curve at so many lists of any kind.

        The curve with a power of effort is read at the usual number of lists; from there all species share one
        power, from which each differs as its heavy-tailed curve does.
        """
        amounts, of_square = np.unique(lists, return_inverse=True)
        tail = self.tail.log_hazard(amounts)[of_square.reshape(-1)]
        more = np.log(np.maximum(lists, 1e-3) / usual) * (self.power - TAIL * _TAIL_POWER)
        plain = self.rate + POWER * np.log(max(usual, 1e-3))
        return np.asarray(TAIL * tail + (1 - TAIL) * plain + more[:, None], dtype=np.float64)


def find_clues(evidence: Evidence) -> Clues:
    """Work out the clues from what was counted."""
    found = evidence.found
    effort = bin_effort(evidence.effort)
    power = power_of_effort(evidence.lists, found)
    likely = _likely(effort, rates(effort, found.sum(axis=0), power), power)
    places = evidence.places
    near_found, near_likely = (sum_around(places, part, NEAR[0]) for part in (found, likely))
    far_found, far_likely = (sum_around(places, part, FAR[0]) for part in (found, likely))
    middle = more_than_likely(sum_around(places, found, _MIDDLE), sum_around(places, likely, _MIDDLE), NEAR[1])
    nearby = 1 - np.exp(np.log1p(-np.minimum(likely, 1 - 1e-9)) * np.exp(middle))
    company, friends = likes_company(found, nearby, evidence.lists > 0)
    context = np.stack(
        [
            more_than_likely(near_found, near_likely, NEAR[1]),
            more_than_likely(far_found, far_likely, FAR[1]),
            found_close_by(evidence.spots, places, power),
            np.broadcast_to(evidence.rise, found.shape),
            company,
            of_like_ground(evidence.ground.shares, found, likely),
            np.broadcast_to(_less_room(evidence)[:, None], found.shape),
        ]
    )
    any_list = bin_lists(evidence.lists, found.shape[1])
    return Clues(
        context,
        rates(any_list, found.sum(axis=0), POWER),
        heavy_tail(any_list, evidence.finds),
        _COMING * power,
        likely,
        found,
        near_likely,
        friends,
    )


def _less_room(evidence: Evidence) -> Numbers:
    """S: natural log of the share of the square that belongs to the area, against that of the squares with lists.

    Source
    ------
    Fewer species live on less ground, as about its fourth root: Preston, F.W. (1962) Ecology 43, 185–215, which
    the default weight of this clue is (from memory).
    """
    room = np.log(evidence.ground.inside)
    return np.asarray(room - np.average(room, weights=evidence.lists + 1e-9), dtype=np.float64) if room.size else room


def _likely(effort: Effort, rate: Numbers, power: float) -> Numbers:
    by_bin = 1 - np.exp(-np.exp(rate)[:, None] * effort.lists[None, :] ** power)
    by_bin[:, 0] = 0.0
    answer: Numbers = by_bin[np.arange(len(rate))[None, :], effort.bin_of]
    return answer
