"""From what was counted to the contents of a page: the words around the tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import geopandas as gpd
import pandas as pd

from gapmap.errors import FileError
from gapmap.grid.systems import System
from gapmap.outputs.page.contents import Background, BackgroundKind, Page
from gapmap.settings import ThresholdsSection
from gapmap.workflow.source import Source
from gapmap.workflow.stages import Counted

#: Words in a layer's or file's name that tell how it is drawn; without one, its shapes tell.
_KIND_WORDS: Mapping[str, BackgroundKind] = {
    "coast": "land", "land": "land", "island": "land", "boundary": "land", "lake": "water", "water": "water",
    "sea": "water", "river": "river", "stream": "river", "road": "road", "path": "road", "town": "place",
    "village": "place", "place": "place",
}  # fmt: skip
_KIND_OF_SHAPE: Mapping[str, BackgroundKind] = {"Polygon": "land", "LineString": "road", "Point": "place"}


def coverage_page(source: Source, counted: Counted) -> Page:
    """Contents of the private page with the coverage views; other views are added with ``replace``."""
    area = source.settings.area
    boundary = source.beside_area_file(area.boundary)
    layers = [path for name in area.background if (path := source.beside_area_file(name))]
    lists, _ = counted.lists_and_finds()
    return Page(
        title=area.name,
        system=counted.records.system,
        side=counted.side,
        classes=counted.classes,
        species=counted.records.species,
        tally=counted.tally,
        effort=counted.effort,
        standing=counted.standing,
        lists=lists,
        made_on=date.today(),
        files=[str(name) for name in counted.records.files["file"]],
        thresholds=threshold_lines(source.settings.thresholds),
        remarks=counted.remarks,
        too_coarse=counted.coarse,
        boundary=None if boundary is None else read_layer(boundary, counted.records.system),
        background=[each for path in layers for each in read_background(path, counted.records.system)],
        notice=area.notice,
    )


def with_background(page: Page, layers: list[Background]) -> Page:
    """The same page with other layers behind the squares."""
    return replace(page, background=layers)


def threshold_lines(thresholds: ThresholdsSection) -> list[str]:
    """The thresholds as sentences for the legend."""
    return [
        f"begun: fewer than {thresholds.enough_visits} visits, so that the species cannot be estimated",
        f"well covered: at least {thresholds.well_share:.0%} of the estimated species found",
        f"thoroughly covered: at least {thresholds.full_share:.0%} of them",
        f"part covered: at least {thresholds.begun_visits} visits and less than that",
    ]


def read_layer(path: Path, system: System, layer: str | None = None) -> gpd.GeoDataFrame:
    """A vector file in the plane of the grid.

    Raises
    ------
    FileError
        The file is no vector layer, or does not say its coordinate reference system.
    """
    try:
        frame = gpd.read_file(path, layer=layer) if layer else gpd.read_file(path)
    except Exception as error:
        raise FileError(
            "A background layer cannot be read",
            found=f"{path.name} ({type(error).__name__})",
            do="give a GeoPackage, GeoJSON or shapefile",
        ) from error
    if frame.crs is None:
        raise FileError(
            "A background layer does not say its coordinate reference system",
            found=path.name,
            do="save it with one, for instance as GeoPackage",
        )
    return frame.to_crs(epsg=system.epsg)


def read_background(path: Path, system: System) -> list[Background]:
    """All layers of a vector file, each with the way it is drawn told from its name or its shapes."""
    try:
        names = [str(name) for name in gpd.list_layers(path)["name"]]
    except Exception as error:
        raise FileError(
            "A background layer cannot be read",
            found=f"{path.name} ({type(error).__name__})",
            do="give a GeoPackage, GeoJSON or shapefile",
        ) from error
    found = []
    for name in names:
        shapes = read_layer(path, system, name)
        if len(shapes):
            label = name if len(names) > 1 else path.stem
            found.append(Background(label, _kind(label, shapes), shapes))
    return found


def _kind(label: str, shapes: gpd.GeoDataFrame) -> BackgroundKind:
    for word, kind in _KIND_WORDS.items():
        if word in label.lower():
            return kind
    shape = str(pd.Series(shapes.geom_type).iloc[0]).removeprefix("Multi")
    return _KIND_OF_SHAPE.get(shape, "land")
