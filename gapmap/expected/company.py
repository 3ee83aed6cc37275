"""Species that keep company: which others are found where one is found."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from gapmap.errors import GapmapError

Numbers = npt.NDArray[np.float64]

#: Finds that a pair of species must outweigh before they count as companions.
CAUTION = 10.0
#: Half as wide numbers count sites exactly up to here, twice as fast.
_COUNTED_EXACTLY = 2**24
#: Correlation from which a species is called a companion.
_BOND = 0.02


def beals(
    sites: npt.ArrayLike,
    species: int | None = None,
    reference: npt.ArrayLike | None = None,
    *,
    kind: int = 0,
    include: bool = True,
) -> Numbers:
    """Chance of each species at each site from the company found there (Beals smoothing).

    Parameters
    ----------
    sites
        R × K: presence or abundance of K species at R sites.
    species
        Column to answer for; all of them when None.
    reference
        Sites to learn the company from; the same sites when None.
    kind
        0: presence only. 1: abundance in the reference weighs the company. 2: abundance at the site weighs.
        3: both.
    include
        Whether the species itself is part of its company.

    Returns
    -------
    R × K array, or R when one species is asked for. Zero where a site has no company to go by.

    Raises
    ------
    GapmapError
        The kind is none of the four, or the two tables have different species.

    Source
    ------
    Beals, E.W. (1984) Bray-Curtis ordination, Advances in Ecological Research 14, 1–55; McCune, B. (1994)
    Improving community analysis with the Beals smoothing function, Écoscience 1, 82–86; De Cáceres, M. &
    Legendre, P. (2008) Beals smoothing revisited, Oecologia 156, 657–669 (kinds 1 to 3, target left out).

    Examples
    --------
    >>> beals([[1, 1, 0], [1, 0, 1], [0, 1, 1], [1, 1, 0]], include=False).round(3).tolist()
    [[0.667, 0.667, 0.333], [0.5, 0.583, 0.333], [0.583, 0.5, 0.333], [0.667, 0.667, 0.333]]
    >>> beals(np.zeros((0, 3))).shape
    (0, 3)
    """
    if kind not in (0, 1, 2, 3):
        raise GapmapError("The kind of Beals smoothing must be 0, 1, 2 or 3", found=kind)
    here = np.asarray(sites, dtype=np.float64)
    known = here if reference is None else np.asarray(reference, dtype=np.float64)
    if here.ndim != 2 or known.ndim != 2 or here.shape[1] != known.shape[1]:
        raise GapmapError(
            "Sites and reference must be tables of the same species", found=f"{here.shape} and {known.shape}"
        )
    there = (known > 0).astype(np.dtype("float32" if len(known) < _COUNTED_EXACTLY else "float64"))
    here = (here > 0).astype(np.float64) if kind in (0, 1) else here
    weighed = there if kind in (0, 2) else known
    together: Numbers = (there.T @ weighed).astype(np.float64)
    alone = weighed.sum(axis=0, dtype=np.float64)
    chance = together / np.where(alone == 0, 1.0, alone)
    if not include:
        np.fill_diagonal(chance, 0.0)
    company = here.sum(axis=1, keepdims=True) - (0.0 if include else here)
    answer = here @ chance.T / np.where(company == 0, 1.0, company)
    return np.ascontiguousarray(answer if species is None else answer[:, species])


def likes_company(
    found: Numbers, likely: Numbers, visited: npt.NDArray[np.bool_], most: int = 12
) -> tuple[Numbers, npt.NDArray[np.int64]]:
    """How far each square's other finds speak for a species, beyond what effort and surroundings explain.

    What was found is compared with what was likely; species whose surprises go together are companions (their
    correlation is drawn towards nought by CAUTION), and the surprises of the companions are added up.

    Parameters
    ----------
    found
        S × K: 1 where the species was found.
    likely
        S × K: chance that it would have been, by effort and surroundings alone.
    visited
        S: squares with lists; the others say nothing.
    most
        Companions to name.

    Returns
    -------
    S × K numbers between −1 and 1, where 0 says nothing either way (the species itself is left out), and the
    positions of each species' best companions, K × most, padded with −1.

    Examples
    --------
    >>> found = np.array([[1.0, 1], [1, 1], [0, 0], [1, 0]] * 20)
    >>> lean, friends = likes_company(found, np.full_like(found, 0.5), np.ones(80, bool))
    >>> bool(lean[2, 0] < 0), friends.tolist()
    (True, [[1, -1], [0, -1]])
    """
    surprise = (found - likely) * visited[:, None]
    spread = np.sqrt((likely * (1 - likely) * visited[:, None]).sum(axis=0) + CAUTION)
    scaled = surprise / spread
    bond = scaled.T @ scaled
    np.fill_diagonal(bond, 0.0)
    # √S makes a square's part of a surprise a number of standard deviations again; three say all there is to say.
    lean: Numbers = np.tanh(scaled @ bond * np.sqrt(max(len(found), 1)) / 3)
    order = np.argsort(-bond, axis=1, kind="stable")[:, :most]
    friends = np.where(np.take_along_axis(bond, order, axis=1) > _BOND, order, -1)
    return lean, friends
