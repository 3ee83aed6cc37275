"""Where every species really lives: the truth that the records only hint at.

Names are facts. Habitats, seasons, hours and difficulty in ``species.csv`` are from memory, simplified for an
invented island, and no guide to identification.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import ndimage

from island.chance import smooth_field, stream
from island.terrain import CELL, CENTRE, CODE_OF, COLUMNS, NORTH, ROWS, SOUTH, TILT, WEST, Terrain

ALWAYS, NEVER = 1000, 9999
SKILLS = ("sight", "hand lens", "microscope", "dissection")
METHODS = (
    "hand search",
    "sieving",
    "pitfall",
    "torch",
    "sweeping",
    "beating",
    "building search",
    "shore search",
)
HOURS = ("day", "dusk", "night")

_LETTERS = {
    "S": "shore",
    "D": "dune",
    "H": "heath",
    "W": "woodland",
    "P": "pasture",
    "A": "arable",
    "B": "bog",
    "T": "town",
    "Q": "quarry",
}
_FULL_SHARE = 0.12  # of a monad's land: from here on more of a habitat makes no difference
_PER_BLOCK = 1000 // CELL


@dataclass(frozen=True)
class Fauna:
    """The truth, species × monads unless said otherwise.

    ``species`` and ``monads`` are frames; ``arrives`` and ``leaves`` are years (lives there when
    arrives ≤ year < leaves; NEVER in ``arrives`` where it never lives); ``abundance`` multiplies the chance to be
    found; ``affinity`` is species × habitat code; ``season`` species × month; ``hour`` species × HOURS;
    ``by_method`` species × METHODS.
    """

    species: pd.DataFrame
    monads: pd.DataFrame
    arrives: np.ndarray
    leaves: np.ndarray
    abundance: np.ndarray
    affinity: np.ndarray
    season: np.ndarray
    hour: np.ndarray
    by_method: np.ndarray

    @cached_property
    def ease(self) -> np.ndarray:
        """How easily each species is found, where it lives and is active."""
        return self.species["ease"].to_numpy()

    @cached_property
    def best_affinity(self) -> np.ndarray:
        """Species × monads: the affinity to the best ground in each monad, a fiftieth of its land at least."""
        best = np.zeros(self.arrives.shape)
        for name, code in CODE_OF.items():
            there = self.monads[name].to_numpy() > 0.02
            best = np.maximum(best, self.affinity[:, [code]] * there)
        return best

    def on_ground(self, monad: int, habitat: int) -> np.ndarray:
        """How much of each species stands on this ground, against the best ground in the monad: 0 to 1."""
        return np.minimum((self.affinity[:, habitat] + 0.03) / (self.best_affinity[:, monad] + 0.03), 1)

    def lives_in(self, monad: int, year: int) -> np.ndarray:
        """Every species: true where it lives in that monad in that year."""
        return (self.arrives[:, monad] <= year) & (year < self.leaves[:, monad])

    def lives(self, year: int) -> np.ndarray:
        """Species × monads: true where the species lives in that year."""
        return (self.arrives <= year) & (year < self.leaves)


def read_species() -> pd.DataFrame:
    """The facts about each species, one row a species, in the order of the checklist."""
    return pd.read_csv(Path(__file__).parent / "species.csv", keep_default_na=False)


def make_fauna(terrain: Terrain) -> Fauna:
    """Settle the species on the island: suitable ground, then history, then chance."""
    species, monads = read_species(), make_monads(terrain)
    affinity = _affinity(species)
    suitable = _suitable(species, monads, affinity)
    lives = _settled(species, monads, suitable)
    arrives, leaves = _history(species, monads, terrain, lives)
    luck = np.stack([stream("abundance", name).standard_normal(len(monads)) for name in species["name"]])
    abundance = (0.3 + suitable) * np.exp(0.8 * luck - 0.32)
    return Fauna(
        species,
        monads,
        arrives,
        leaves,
        abundance,
        affinity,
        _season(species),
        _hour(species),
        _by_method(species),
    )


def make_monads(terrain: Terrain) -> pd.DataFrame:
    """Every 1 km square with at least a hectare of land: its corner, land share, habitat shares, height and lime."""

    def mean(values: np.ndarray) -> np.ndarray:
        return values.reshape(ROWS // _PER_BLOCK, _PER_BLOCK, COLUMNS // _PER_BLOCK, _PER_BLOCK).mean(
            axis=(1, 3)
        )

    land = mean(terrain.land.astype(float))
    north, east = np.meshgrid(
        np.arange(NORTH - 1000, SOUTH - 1, -1000), np.arange(WEST, WEST + COLUMNS * CELL, 1000), indexing="ij"
    )
    safe = np.maximum(land, 1e-9)
    frame = {
        "easting": east,
        "northing": north,
        "land": land,
        "height": mean(terrain.height * terrain.land) / safe,
        "lime": mean(terrain.lime * terrain.land) / safe,
    }
    frame |= {name: mean((terrain.habitat == code).astype(float)) / safe for name, code in CODE_OF.items()}
    monads = pd.DataFrame({name: values.ravel() for name, values in frame.items()})
    return monads[monads["land"] >= 0.0099].reset_index(drop=True)


def _affinity(species: pd.DataFrame) -> np.ndarray:
    affinity = np.zeros((len(species), max(CODE_OF.values()) + 1))
    for row, text in enumerate(species["habitats"]):
        for letter, digit in re.findall(r"([A-Z])(\d)", text):
            affinity[row, CODE_OF[_LETTERS[letter]]] = int(digit) / 9
    return affinity


def _suitable(species: pd.DataFrame, monads: pd.DataFrame, affinity: np.ndarray) -> np.ndarray:
    missing = np.ones((len(species), len(monads)))
    for name, code in CODE_OF.items():
        enough = np.minimum(monads[name].to_numpy() * monads["land"].to_numpy() / _FULL_SHARE, 1)
        missing *= 1 - affinity[:, [code]] * enough
    lowest, highest = (
        species["height"].str.split("-").str[i].astype(float).to_numpy()[:, None] for i in (0, 1)
    )
    height = monads["height"].to_numpy()
    above = 1 / (1 + np.exp(-(height - lowest + 30) / 20))
    below = 1 / (1 + np.exp((height - highest - 10) / 30))
    return (1 - missing) * above * below


def _settled(species: pd.DataFrame, monads: pd.DataFrame, suitable: np.ndarray) -> np.ndarray:
    along = _along_km(monads)
    rows = ((NORTH - 1000 - monads["northing"]) // 1000).to_numpy()
    columns = ((monads["easting"] - WEST) // 1000).to_numpy()
    lives = np.zeros(suitable.shape, bool)
    for row, kind in species.iterrows():
        generator = stream("settled", kind["name"])
        surface = smooth_field(generator, (ROWS // _PER_BLOCK, COLUMNS // _PER_BLOCK), 7)[rows, columns]
        side = {"west": -1.0, "east": 1.0}.get(kind["history"], 0.0)
        spread = kind["spread"]
        logit = (
            np.log(spread / (1 - spread))
            + 4.5 * (suitable[row] - 0.75)
            + kind["lime"] * monads["lime"].to_numpy()
        )
        logit += 1.1 * surface + side * 2.5 * np.tanh(along / 9)
        chance = np.where(suitable[row] < 0.06, 0, 1 / (1 + np.exp(-logit)))
        lives[row] = generator.random(len(monads)) < chance
    return lives


def _along_km(monads: pd.DataFrame) -> np.ndarray:
    east, north = monads["easting"] + 500 - CENTRE[0], monads["northing"] + 500 - CENTRE[1]
    return ((east * np.cos(TILT) + north * np.sin(TILT)) / 1000).to_numpy()


def _history(
    species: pd.DataFrame, monads: pd.DataFrame, terrain: Terrain, lives: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    arrives = np.where(lives, ALWAYS, NEVER)
    leaves = np.full(lives.shape, NEVER)
    for row, (name, history) in enumerate(zip(species["name"], species["history"], strict=True)):
        words, generator = history.rsplit(" ", 2), stream("history", name)
        wobble = generator.standard_normal(len(monads))
        if history.startswith("front"):
            town = terrain.towns[words[0].removeprefix("front ")]
            away = np.hypot(monads["easting"] + 500 - town[0], monads["northing"] + 500 - town[1]) / 1000
            year = np.round(float(words[1]) + away / float(words[2]) + 2.5 * wobble).astype(int)
            arrives[row] = np.where(lives[row], np.maximum(year, int(words[1])), NEVER)
        elif history.startswith("retreat"):
            gone = generator.random(len(monads)) < 0.7
            leaves[row] = np.where(gone, np.round(float(words[1]) + 6 * wobble).astype(int), NEVER)
    return arrives, leaves


def _season(species: pd.DataFrame) -> np.ndarray:
    season = np.full((len(species), 12), 0.06)
    for row, months in enumerate(species["months"]):
        first, last = (int(month) for month in months.split("-"))
        inside = [(first - 1 + step) % 12 for step in range((last - first) % 12 + 1)]
        season[row, inside] = 1.0
    smooth = ndimage.gaussian_filter1d(season, 0.6, axis=1, mode="wrap")
    weather = np.array([0.55, 0.65, 0.9, 1.1, 1.2, 1.0, 0.75, 0.75, 1.05, 1.2, 1.0, 0.65])
    return smooth * weather


def _hour(species: pd.DataFrame) -> np.ndarray:
    dark = species["dark"].to_numpy()
    return np.stack([1 - dark, 0.5 + 0.4 * dark, 0.25 + 1.1 * dark], axis=1)


def _by_method(species: pd.DataFrame) -> np.ndarray:
    strength = np.full((len(species), len(METHODS)), 0.1)
    for row, text in enumerate(species["methods"]):
        for rank, method in enumerate(text.split(";")):
            strength[row, METHODS.index(method)] = (1.0, 0.75, 0.55, 0.45)[rank]
    return strength
