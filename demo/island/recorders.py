"""Who records: invented people, their homes and their habits."""

from __future__ import annotations

from dataclasses import dataclass

ALL_GROUPS = ("woodlice", "harvestmen", "centipedes", "millipedes")


@dataclass(frozen=True)
class Recorder:
    """One invented recorder.

    Parameters
    ----------
    name, town
        Invented name and the town they live in or near.
    first, last
        Years active.
    trips
        Outings a year when in full swing.
    reach_km
        Typical distance they go; outings fall off exponentially with it.
    weekend, dark, whole
        Shares 0 to 1: outings at weekends, outings at dusk or night, outings that end in a whole list (the others
        are casual records).
    likes
        Habitats they seek out.
    methods
        How they look, the usual one first.
    groups
        Taxon groups they can name.
    skill
        What they can use to name a species: sight, hand lens, microscope, dissection.
    file
        The file their own records are in; empty when they write to the society.
    own_years
        First and last year in that file.
    """

    name: str
    town: str
    first: int
    last: int
    trips: int
    reach_km: float
    weekend: float
    dark: float
    whole: float
    likes: tuple[str, ...]
    methods: tuple[str, ...]
    groups: tuple[str, ...]
    skill: str
    file: str = ""
    own_years: tuple[int, int] = (0, 0)

    @property
    def initials(self) -> str:
        """The name as people sign: initials before the surname."""
        *given, surname = self.name.split(" ")
        return " ".join(f"{word[0]}." for word in given) + " " + surname

    @property
    def surname_first(self) -> str:
        """The name as libraries write it."""
        *given, surname = self.name.split(" ")
        return f"{surname}, " + " ".join(f"{word[0]}." for word in given)


_HAND, _SIEVE = "hand search", "sieving"
_WOODS, _SHORE, _TOWN, _MOOR = ("woodland",), ("shore", "dune"), ("town",), ("heath", "bog")
_WL, _HM, _CP, _MP = ALL_GROUPS

RECORDERS = (
    Recorder("Hesper Lundrake", "Marrowhithe", 1966, 1991, 34, 11, 0.3, 0.03, 0.75, (*_WOODS, *_SHORE), (_HAND, _SIEVE), ALL_GROUPS, "dissection"),
    Recorder("Edric Tallowin", "Ottenhaven", 1967, 2001, 24, 9, 0.8, 0.02, 0.55, ("pasture", "woodland"), (_HAND,), (_WL, _MP), "hand lens"),
    Recorder("Mabyn Corrowen", "Quernagh", 1971, 1996, 16, 8, 0.7, 0.02, 0.5, _SHORE, ("shore search", _HAND), (_WL, _CP), "microscope"),
    Recorder("Osric Penhallan", "Marrowhithe", 1974, 2008, 22, 16, 0.75, 0.04, 0.6, _WOODS, ("sweeping", "beating", _HAND), (_HM,), "microscope"),
    Recorder("Ismay Fennimar", "Quernagh", 1978, 2012, 18, 10, 0.6, 0.03, 0.5, ("woodland", "heath"), (_HAND, _SIEVE), ALL_GROUPS, "hand lens", "fennimar", (1978, 2012)),
    Recorder("Ludo Brackentide", "Oxmantle", 1979, 2003, 15, 6, 0.85, 0.02, 0.35, ("pasture", "town"), (_HAND,), (_WL, _CP, _MP), "sight"),
    Recorder("Averil Stonnard", "Skaithby", 1983, 2019, 20, 9, 0.5, 0.05, 0.6, ("woodland", "dune"), (_SIEVE, _HAND), (_CP, _MP), "dissection"),
    Recorder("Jory Tamblewick", "Vindlemoor", 1985, 2026, 22, 7, 0.65, 0.03, 0.7, _MOOR, ("pitfall", _HAND, "sweeping"), ALL_GROUPS, "microscope"),
    Recorder("Philippa Moorsom-Dray", "Marrowhithe", 1986, 2010, 18, 12, 0.8, 0.02, 0.5, _TOWN, (_HAND, "building search"), (_WL, _HM), "hand lens"),
    Recorder("Cuthwin Ascarrow", "Pellowstrand", 1989, 2021, 14, 8, 0.6, 0.04, 0.45, _SHORE, ("shore search", _HAND), (_WL, _CP, _MP), "hand lens"),
    Recorder("Dunstan Quellick", "Ottenhaven", 1992, 2026, 30, 10, 0.75, 0.05, 0.5, ("pasture", "woodland", "town"), (_HAND, "sweeping"), ALL_GROUPS, "hand lens", "quellick", (2010, 2019)),
    Recorder("Rosamund Ivelight", "Dunnerfold", 1994, 2026, 24, 13, 0.55, 0.10, 0.65, _WOODS, ("beating", "sweeping", "torch"), (_HM, _WL), "microscope"),
    Recorder("Tobit Hallowgarth", "Marrowhithe", 1997, 2026, 38, 20, 0.5, 0.03, 0.8, ("woodland", "quarry", "dune"), (_HAND, _SIEVE), ALL_GROUPS, "dissection"),
    Recorder("Merrin Oakshatter", "Brindlecross", 2000, 2018, 18, 6, 0.9, 0.02, 0.3, ("pasture", "woodland"), (_HAND,), (_WL, _MP), "sight"),
    Recorder("Selwyn Drumlattie", "Gossamer Wick", 2001, 2026, 20, 9, 0.6, 0.06, 0.5, ("heath", "woodland"), (_HAND, "pitfall"), (_WL, _HM, _MP), "hand lens"),
    Recorder("Brid Ottaway-Skene", "Skaithby", 2003, 2026, 22, 8, 0.7, 0.02, 0.4, ("dune", "shore", "pasture"), (_HAND, "shore search"), ALL_GROUPS, "hand lens"),
    Recorder("Ivo Marchbriar", "Marrowhithe", 2005, 2024, 26, 5, 0.6, 0.30, 0.45, _TOWN, ("torch", _HAND, "building search"), (_WL, _HM, _CP), "hand lens"),
    Recorder("Nesta Wrayburnie", "Quernagh", 2007, 2026, 20, 11, 0.65, 0.04, 0.55, ("woodland", "arable"), (_HAND, _SIEVE), (_CP, _MP), "microscope"),
    Recorder("Thessaly Orrowby", "Marrowhithe", 2009, 2026, 34, 14, 0.8, 0.12, 0.6, ("town", "woodland", "quarry"), (_HAND, "torch", _SIEVE), ALL_GROUPS, "microscope", "orrowby", (2016, 2026)),
    Recorder("Gethin Farthinglow", "Lantersea", 2011, 2026, 16, 5, 0.7, 0.03, 0.35, ("shore", "pasture"), (_HAND,), (_WL, _MP), "sight"),
    Recorder("Perran Sallowby", "Oxmantle", 2012, 2026, 22, 12, 0.85, 0.05, 0.5, ("woodland", "pasture"), (_HAND, "sweeping"), (_WL, _HM, _CP), "hand lens"),
    Recorder("Corin Vastrey", "Skaithby", 2014, 2026, 40, 18, 0.65, 0.08, 0.45, ("heath", "dune", "woodland"), (_HAND, "sweeping"), ALL_GROUPS, "hand lens", "vastrey", (2019, 2026)),
    Recorder("Oriel Dunmarrick", "Ottenhaven", 2016, 2026, 32, 4, 0.75, 0.10, 0.2, _TOWN, (_HAND, "building search"), (_WL, _HM), "sight"),
    Recorder("Magnus Threlkeeld", "Dunnerfold", 2017, 2026, 24, 15, 0.9, 0.03, 0.7, ("woodland", "bog"), (_HAND, _SIEVE, "pitfall"), (_CP, _MP, _WL), "dissection"),
    Recorder("Wenna Pargiton", "Pellowstrand", 2019, 2026, 26, 6, 0.6, 0.04, 0.3, ("dune", "town"), (_HAND,), (_WL, _HM, _MP), "sight"),
    Recorder("Zennor Applegarthy", "Vindlemoor", 2021, 2026, 18, 9, 0.8, 0.05, 0.35, ("heath", "pasture"), (_HAND, "sweeping"), (_HM, _WL), "hand lens"),
)


def recorder_named(name: str) -> Recorder:
    """The recorder of that name."""
    return next(recorder for recorder in RECORDERS if recorder.name == name)
