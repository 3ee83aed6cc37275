"""What an organiser keeps beside the records: the area file, the checklist, people, places and volunteers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from island.fauna import Fauna
from island.recorders import RECORDERS
from island.terrain import HABITATS, ISLAND, NOTICE, Terrain
from island.writing import references

Table = tuple[list[str], list[list[str]]]

#: Volunteers of the coming season: name, home town, days they can give, reach, night work.
_VOLUNTEERS = (
    ("Tobit Hallowgarth", "2 a month, Mar-Oct", "30 km", "no"),
    ("Rosamund Ivelight", "Apr 1; May 2; Jun 2; Sep 3; Oct 2", "25 km", "yes"),
    ("Thessaly Orrowby", "3 a month, Apr-Oct", "20 km", "yes"),
    ("Corin Vastrey", "2 a month, Mar-Nov", "35 km", "yes"),
    ("Magnus Threlkeeld", "Apr 2; May 2; Oct 3; Nov 2", "30 km", "no"),
    ("Nesta Wrayburnie", "1 a month, Mar-Nov", "18 km", "no"),
    ("Jory Tamblewick", "May 3; Jun 3; Jul 3; Aug 2", "15 km", "no"),
    ("Perran Sallowby", "2027-04-10; 2027-05-08; 2027-06-12; 2027-09-11", "25 km", "no"),
    ("Zennor Applegarthy", "1 a month, Apr-Oct", "15 km", "yes"),
    ("Gethin Farthinglow", "2 a month, May-Sep", "40 min", "no"),
    ("Wenna Pargiton", "2027-05-15; 2027-06-19; 2027-07-17", "10 km", "no"),
    ("Brid Ottaway-Skene", "1 a month, Apr-Sep", "16 km", "no"),
    ("Oriel Dunmarrick", "Jun 2; Jul 2; Aug 2", "8 km", "yes"),
    ("Selwyn Drumlattie", "1 a month", "20 km", "no"),
)


def checklist_table(fauna: Fauna) -> Table:
    """The checklist: names are facts; months, hours and difficulty are from memory and simplified."""
    headers = [
        "name",
        "authority",
        "rank",
        "synonyms",
        "vernacular",
        "group",
        "identify",
        "evidence",
        "months",
        "time_of_day",
        "sensitive",
    ]
    rows = [
        [
            kind.name,
            kind.authority,
            "species",
            kind.synonyms,
            kind.vernacular,
            kind.group,
            kind.identify,
            kind.evidence,
            _months(kind.months),
            "night" if kind.dark >= 0.6 else "dusk" if kind.dark >= 0.4 else "day" if kind.dark < 0.2 else "",
            kind.sensitive,
        ]
        for kind in fauna.species.sort_values(["group", "name"]).itertuples(index=False)
    ]
    return headers, rows


def _months(text: str) -> str:
    """10-4 as 1-4, 10-12: a season over the new year in the order of the calendar."""
    first, last = (int(part) for part in text.split("-"))
    return text if first <= last else f"1-{last}, {first}-12"


def places_table(places: pd.DataFrame) -> Table:
    """Named places with the 1 km square they lie in."""
    squares = references(
        places["easting"].to_numpy(), places["northing"].to_numpy(), np.full(len(places), 1000)
    )
    return ["place", "reference"], [
        [name, square] for name, square in zip(places["name"], squares, strict=True)
    ]


def people_table() -> Table:
    """Short signatures of the notebooks and who they mean."""
    return ["written", "name"], [["IF", "Ismay Fennimar"]]


def volunteers_table(terrain: Terrain) -> Table:
    """Invented volunteers; homes are the 1 km square of their town."""
    known = {recorder.name: recorder for recorder in RECORDERS}
    rows = []
    for name, days, reach, night in _VOLUNTEERS:
        recorder = known[name]
        east, north, _ = terrain.towns[recorder.town]
        home = references(np.array([east]), np.array([north]), np.array([1000]))[0]
        methods = sorted({*recorder.methods, *(["torch"] if night == "yes" else [])})
        rows.append([name, home, days, reach, night, "; ".join(methods), "; ".join(recorder.groups)])
    return ["name", "home", "days", "travel", "night", "methods", "groups"], rows


def area_file(no_go: list[str]) -> str:
    """The text of area.toml."""
    habitats = "\n".join(f'{code} = "{name}"' for code, name in HABITATS.items())
    return f"""# {NOTICE}
[area]
name = "{ISLAND} (invented)"
grid = "british"
square = "2km"
classes = "-1999, 2000-2014, 2015-"
boundary = "background/boundary.gpkg"
background = ["background/coast.gpkg", "background/rivers.gpkg", "background/roads.gpkg", "background/towns.gpkg"]
notice = "{NOTICE}"

[rasters]
habitat = "rasters/habitat.tif"
height = "rasters/height.tif"

[rasters.habitat_names]
{habitats}

[visits]
volunteers = "volunteers.csv"
no_go = [{", ".join(f'"{square}"' for square in no_go)}] # seabirds nest on the islet
"""
