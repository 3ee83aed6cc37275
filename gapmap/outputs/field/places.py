"""The squares of a plan for a navigator and for maps: GPX, KML and GeoJSON.

Source: GPX 1.1 schema (Topografix, 2004), OGC KML 2.2 (OGC 07-147r2, 2008), GeoJSON (RFC 7946, 2016).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from gapmap.grid.squares import polygons_lonlat
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import FieldSheet, targets_in_words

_GPX = "http://www.topografix.com/GPX/1/1"
_KML = "http://www.opengis.net/kml/2.2"
Ring = list[tuple[float, float]]


def write_gpx(sheets: Sequence[FieldSheet], path: Path) -> None:
    """Write waypoints (the middle and the corners of each square) and each square's outline as a track."""
    root = ElementTree.Element("gpx", {"xmlns": _GPX, "version": "1.1", "creator": "gapmap"})
    details = ElementTree.SubElement(root, "metadata")
    _child(details, "name", _title(sheets))
    _child(details, "desc", _caution(sheets))
    for sheet in sheets:
        _waypoint(root, *sheet.middle, sheet.reference, _about(sheet))
        for corner in sheet.corners:
            _waypoint(root, corner.latitude, corner.longitude, f"{sheet.reference} {corner.name}", corner.reference)
    for sheet, ring in zip(sheets, _rings(sheets), strict=True):
        track = ElementTree.SubElement(root, "trk")
        _child(track, "name", f"{sheet.reference} outline")
        _child(track, "desc", sheet.when)
        segment = ElementTree.SubElement(track, "trkseg")
        for longitude, latitude in ring:
            ElementTree.SubElement(segment, "trkpt", {"lat": f"{latitude:.6f}", "lon": f"{longitude:.6f}"})
    _write(root, path)


def write_kml(sheets: Sequence[FieldSheet], path: Path) -> None:
    """Write each square as a polygon with who goes there when, and what for."""
    root = ElementTree.Element("kml", {"xmlns": _KML})
    document = ElementTree.SubElement(root, "Document")
    _child(document, "name", _title(sheets))
    _child(document, "description", _caution(sheets))
    style = ElementTree.SubElement(document, "Style", {"id": "square"})
    line = ElementTree.SubElement(style, "LineStyle")
    _child(line, "color", "ff8a3c1e")
    _child(line, "width", "2")
    _child(ElementTree.SubElement(style, "PolyStyle"), "color", "338a3c1e")
    for sheet, ring in zip(sheets, _rings(sheets), strict=True):
        place = ElementTree.SubElement(document, "Placemark", {"id": f"visit{sheet.visit_id}"})
        _child(place, "name", f"{sheet.reference}: {sheet.when}")
        _child(place, "description", _about(sheet))
        if sheet.day is not None:
            _child(ElementTree.SubElement(place, "TimeStamp"), "when", sheet.day.isoformat())
        _child(place, "styleUrl", "#square")
        polygon = ElementTree.SubElement(place, "Polygon")
        outer = ElementTree.SubElement(ElementTree.SubElement(polygon, "outerBoundaryIs"), "LinearRing")
        _child(outer, "coordinates", " ".join(f"{longitude:.6f},{latitude:.6f}" for longitude, latitude in ring))
    _write(root, path)


def write_geojson(sheets: Sequence[FieldSheet], path: Path) -> None:
    """Write each square as a polygon (WGS 84, counter-clockwise as the standard asks)."""
    features = [
        {
            "type": "Feature",
            "id": sheet.visit_id,
            "geometry": {"type": "Polygon", "coordinates": [[[round(x, 6), round(y, 6)] for x, y in ring]]},
            "properties": {
                "square": sheet.reference,
                "volunteers": list(sheet.people),
                "day": None if sheet.day is None else sheet.day.isoformat(),
                "month": sheet.month,
                "time_of_day": sheet.time_of_day,
                "targets": [target.name for target in sheet.targets],
                "notice": sheet.notice,
            },
        }
        for sheet, ring in zip(sheets, _rings(sheets), strict=True)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1)
    with whole_file(path) as draft:
        draft.write_text(text + "\n", encoding="utf-8")


def _rings(sheets: Sequence[FieldSheet]) -> list[Ring]:
    """Outlines in degrees, longitude before latitude, counter-clockwise and closed."""
    rings: list[Ring] = []
    for shape in polygons_lonlat(np.array([sheet.square for sheet in sheets], dtype=np.int64)):
        points = [(float(x), float(y)) for x, y in shape.exterior.coords]
        rings.append(points if shape.exterior.is_ccw else points[::-1])
    return rings


def _waypoint(root: ElementTree.Element, latitude: float, longitude: float, name: str, about: str) -> None:
    point = ElementTree.SubElement(root, "wpt", {"lat": f"{latitude:.6f}", "lon": f"{longitude:.6f}"})
    _child(point, "name", name)
    _child(point, "desc", about)


def _child(parent: ElementTree.Element, name: str, text: str) -> None:
    ElementTree.SubElement(parent, name).text = "".join(one for one in text if one == "\n" or one.isprintable())


def _title(sheets: Sequence[FieldSheet]) -> str:
    return f"Field days, {sheets[0].area}" if sheets else "Field days"


def _caution(sheets: Sequence[FieldSheet]) -> str:
    notice = [sheets[0].notice] if sheets and sheets[0].notice else []
    return " ".join([*notice, "Outlines of squares are no paths and no right of way; ask the landowner first."])


def _about(sheet: FieldSheet) -> str:
    return f"{' and '.join(sheet.people)}, {sheet.when}\n{targets_in_words(sheet.targets)}"


def _write(root: ElementTree.Element, path: Path) -> None:
    ElementTree.indent(root, " ")
    with whole_file(path) as draft:
        ElementTree.ElementTree(root).write(draft, encoding="UTF-8", xml_declaration=True)
