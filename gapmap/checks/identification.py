"""Is the record as good as its evidence? What naming a species takes, from the checklist, against what was given.

Silent where the checklist says nothing. Nothing here says that somebody named wrongly: it says what would settle it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Number = npt.NDArray[np.float64]

#: What naming can take, in rising order (the words of columns.SPECIES).
LEVELS = ("sight", "hand lens", "microscope", "dissection")
#: How far each kind of evidence goes; a voucher can be looked at again in any way.
REACHES = {
    "": 0,
    "seen": 0,
    "heard": 0,
    "by eye": 0,
    "field": 0,
    "photograph": 0,
    "photo": 0,
    "hand lens": 1,
    "lens": 1,
    "magnif": 1,
    "microscop": 2,
    "voucher": 3,
    "specimen": 3,
    "dissect": 3,
    "genital": 3,
    "dna": 3,
}
#: Records of the group's hard species, named by the same determiner on sufficient evidence, that show the way with it.
SHOWN = 10


@dataclass(frozen=True)
class Identification:
    """For each record: levels short of what naming takes (0: enough), what it takes and what is missing."""

    short: Number
    level: npt.NDArray[np.int64]
    ask_for: npt.NDArray[np.object_]


def identification(records: pd.DataFrame, species: pd.DataFrame) -> Identification:
    """Compare the evidence of records with what naming their species takes.

    Parameters
    ----------
    records, species
        Frames as in columns.RECORDS and columns.SPECIES. A difficulty may add the sex or stage that can be named at
        all, such as ``dissection, male`` or ``microscope, adult``.

    Examples
    --------
    >>> species = pd.DataFrame({"species_id": [0], "difficulty": ["microscope"], "group": ["harvestmen"]})
    >>> records = pd.DataFrame({"species_id": [0, 0], "evidence": ["seen", "microscope"], "sex": "", "stage": ""})
    >>> records["identified_by"] = ""
    >>> identification(records, species).short
    array([2., 0.])
    """
    facts = species.set_index("species_id")
    difficulty = facts["difficulty"].fillna("").astype("str").str.casefold()
    rows = records["species_id"]
    wording = rows.map(difficulty).fillna("").astype("str")
    level = rows.map(difficulty.map(_level)).fillna(-1).to_numpy(np.int64)
    distinct = records["evidence"].astype("str").str.casefold().str.strip()
    reach = distinct.map({text: _reach(text) for text in distinct.unique()}).to_numpy(np.int64)
    wrong_animal = _cannot_be_named(wording, records["sex"].astype("str"), records["stage"].astype("str"))
    short = np.where(level >= 0, np.maximum(level - reach, 0), 0) + np.where(wrong_animal, 2, 0)
    short = np.where(
        _has_shown(records, rows.map(facts["group"]).astype("str"), level, short), np.minimum(short, 0.5), short
    ).astype(float)
    return Identification(short, level, _missing(level, reach, wrong_animal))


def _level(wording: str) -> int:
    found = [index for index, word in enumerate(LEVELS) if word in wording]
    return max(found, default=-1)


def _reach(evidence: str) -> int:
    return max((level for word, level in REACHES.items() if word and word in evidence), default=0)


def _cannot_be_named(wording: pd.Series, sex: pd.Series, stage: pd.Series) -> npt.NDArray[np.bool_]:
    """Females where only males can be told apart (or the reverse), young where only adults can."""
    only_male = wording.str.contains(r"\bmales?\b", regex=True)
    only_female = wording.str.contains(r"\bfemales?\b", regex=True)
    only_adult = wording.str.contains("adult", regex=False)
    wrong_sex = (only_male & ~only_female & (sex == "female")) | (only_female & ~only_male & (sex == "male"))
    return (wrong_sex | (only_adult & ~stage.isin(["", "adult"]))).to_numpy(bool)


def _has_shown(
    records: pd.DataFrame, group: pd.Series, level: npt.NDArray[np.int64], short: Number
) -> npt.NDArray[np.bool_]:
    """Whether the determiner has named enough equally hard records of the group on evidence that suffices, none of
    them since found not to be so."""
    who = records["identified_by"].astype("str").str.strip().str.casefold()
    refused = (records["status"] == "not accepted").to_numpy(bool) if "status" in records else False
    good = pd.Series((short == 0) & (level >= 2) & ~np.asarray(refused), index=records.index)
    shown = good.groupby([who, group]).transform("sum").to_numpy(float)
    return (shown >= SHOWN) & (who != "").to_numpy(bool)


def _missing(
    level: npt.NDArray[np.int64], reach: npt.NDArray[np.int64], wrong_animal: npt.NDArray[np.bool_]
) -> npt.NDArray[np.object_]:
    asks = np.array(
        [
            "a photograph",
            "a close photograph of the feature that decides, or what was seen of it with a hand lens",
            "a voucher, or what was seen of the deciding feature under magnification",
            "a voucher that can be dissected, or who dissected it; until then the record stands at genus level",
        ],
        dtype=object,
    )
    needed = np.where(level > reach, asks[np.clip(level, 0, 3)], "")
    animal = "whether a specimen of the sex and age that can be told apart was found"
    return np.where(wrong_animal, np.where(needed == "", animal, needed + "; " + animal), needed).astype(object)
