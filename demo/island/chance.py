"""Where all chance comes from: one seed, one stream a purpose."""

from __future__ import annotations

import hashlib

import numpy as np
from scipy import sparse

SEED = 20261125


def stream(*purpose: object) -> np.random.Generator:
    """A generator that depends on the seed and the purpose alone, so that one part can change without the others."""
    return np.random.Generator(np.random.PCG64(int.from_bytes(_digest(purpose)[:16], "big")))


def fraction(*purpose: object) -> float:
    """One even draw, 0 up to 1, that depends on the seed and the purpose alone; quicker than a stream of one."""
    return int.from_bytes(_digest(purpose)[:6], "big") / 2**48


def _digest(purpose: tuple[object, ...]) -> bytes:
    return hashlib.sha256("/".join(str(part) for part in (SEED, *purpose)).encode()).digest()


def smooth_field(generator: np.random.Generator, shape: tuple[int, int], length: float) -> np.ndarray:
    """A smooth random surface with mean 0 and standard deviation 1; length is the size of its bumps in cells.

    Random knots joined by Catmull-Rom curves, first down, then across. Sparse products are summed in one fixed
    order, so the surface does not depend on the processor's own linear algebra.
    """
    down, across = _between_knots(shape[0], length), _between_knots(shape[1], length)
    knots = generator.standard_normal((down.shape[1], across.shape[1]))
    surface = (across @ (down @ knots).T).T
    return np.ascontiguousarray((surface - surface.mean()) / surface.std())


def _between_knots(cells: int, length: float) -> sparse.csr_array:
    place = np.arange(cells) / length + 1
    before = place.astype(int)
    t = place - before
    weights = 0.5 * np.stack(
        [-t + 2 * t**2 - t**3, 2 - 5 * t**2 + 3 * t**3, t + 4 * t**2 - 3 * t**3, -(t**2) + t**3],
        axis=1,
    )
    columns = before[:, None] + np.arange(-1, 3)
    rows = np.repeat(np.arange(cells), 4)
    return sparse.csr_array((weights.ravel(), (rows, columns.ravel())), shape=(cells, int(before.max()) + 3))
