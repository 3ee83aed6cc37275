"""A field sheet for a telephone: one page of HTML that loads nothing and runs nothing, so it works without signal."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from html import escape
from pathlib import Path

import shapely

from gapmap.outputs.field.paper import degrees
from gapmap.outputs.page.contents import Background
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import TALLY_COLUMNS, FieldSheet, Target

_STYLE = """
:root { color-scheme: light; }
body { font: 17px/1.45 system-ui, "Segoe UI", Helvetica, Arial, sans-serif; color: #17202a; background: #fff;
  margin: 0 auto; padding: 0 14px 40px; max-width: 42em; overflow-wrap: anywhere; }
h1 { font-size: 1.5em; line-height: 1.2; margin: .6em 0 .2em; }
h2 { font-size: 1.1em; margin: 1.4em 0 .4em; border-bottom: 2px solid #17202a; }
p { margin: .35em 0; }
.notice { border: 2px solid #7a2a0c; color: #7a2a0c; padding: .3em .6em; font-weight: bold; }
svg { width: 100%; height: auto; display: block; border: 1px solid #4a5560; background: #fbfaf6; }
.land { fill: #f6f3ea; stroke: #8d8a7e; } .water { fill: #dbe7ee; stroke: #7d97a6; }
.river { fill: none; stroke: #5b86a3; } .road { fill: none; stroke: #a58a72; stroke-width: 2.4; }
.square { fill: none; stroke: #17202a; stroke-width: 4; } .line { stroke: #4a5560; stroke-width: .6; opacity: .6; }
text { font: 11px system-ui, sans-serif; fill: #17202a; }
ol { list-style: none; margin: 0; padding: 0; }
li.target { border-bottom: 1px solid #b9bfc4; padding: .55em 0; }
label { display: flex; gap: .6em; align-items: flex-start; min-height: 44px; }
input { width: 26px; height: 26px; flex: none; margin: .1em 0; }
dl { display: grid; grid-template-columns: 6.2em 1fr; gap: .1em .5em; margin: .1em 0 0 2.3em; font-size: .92em; }
dt { color: #4a5560; } dd { margin: 0; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-size: .85em; width: 100%; }
th, td { border: 1px solid #8b949b; padding: .3em .4em; text-align: left; vertical-align: top; }
.blank td { height: 2.1em; min-width: 4.5em; }
.safety { background: #e4e1d8; border: 1px solid #17202a; padding: .2em .9em .6em; margin-top: 1.6em; }
.safety ul { padding-left: 1.1em; margin: .3em 0; }
@media print { body { max-width: none; } li.target, .safety { break-inside: avoid; } }
"""
_SIZE = 360


def write_sheet_html(sheet: FieldSheet, background: Sequence[Background], path: Path) -> None:
    """Write one visit as a page for a telephone."""
    with whole_file(path) as draft:
        draft.write_text(sheet_to_html(sheet, background), encoding="utf-8")


def sheet_to_html(sheet: FieldSheet, background: Sequence[Background]) -> str:
    """The page as text; every word from a file is escaped, and a policy forbids the network and scripts."""
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    title = f"{sheet.reference}, {sheet.when}"
    body = [
        f"<h1>{escape(sheet.reference)}</h1>",
        f"<p><strong>{escape(sheet.when)}</strong><br>{escape(' and '.join(sheet.people))} · {escape(sheet.area)}</p>",
        *([f'<p class="notice">{escape(sheet.notice)}</p>'] if sheet.notice else []),
        *(f"<p><strong>{escape(remark)}</strong></p>" for remark in sheet.remarks),
        square_map(sheet, background),
        *([f"<p>Ground: {escape(sheet.ground)}</p>"] if sheet.ground else []),
        "<h2>Look for</h2>", *_targets(sheet),
        "<h2>Corners</h2>", *_corners(sheet),
        "<h2>Latest lists from here</h2>", *_last_visits(sheet),
        "<h2>Tally</h2>", *_tally(),
        f'<section class="safety"><h2>{escape(sheet.safety_title)}</h2><ul>',
        *(f"<li>{escape(sentence)}</li>" for sentence in sheet.safety), "</ul></section>",
    ]  # fmt: skip
    return "\n".join([
        "<!DOCTYPE html>", '<html lang="en-GB">', "<head>", '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title>", f"<style>{_STYLE}</style>", "</head>", "<body>", "<main>", *body,
        "</main>", "</body>", "</html>", "",
    ])  # fmt: skip


def square_map(sheet: FieldSheet, background: Sequence[Background]) -> str:
    """The square with what lies around it, as a drawing (SVG)."""
    side, margin = sheet.side, sheet.side * 0.25
    west, north = sheet.corners[1].easting - margin, sheet.corners[1].northing + margin
    scale = _SIZE / (side + 2 * margin)
    window = shapely.box(west, north - side - 2 * margin, west + side + 2 * margin, north)

    def point(x: float, y: float) -> str:
        return f"{(x - west) * scale:.1f} {(north - y) * scale:.1f}"

    parts = []
    for layer in background:
        if layer.kind != "place":
            shapes = shapely.intersection(layer.shapes.geometry.to_numpy(), window)
            paths = " ".join(_path(piece, point) for piece in shapely.get_parts(shapes) if not piece.is_empty)
            parts += [f'<path class="{layer.kind}" d="{paths}"/>'] if paths.strip() else []
    step = 1000 if side <= 5000 else side // 5
    for metres in range(0, side + 1, step):
        across, up = (metres + margin) * scale, (side + margin - metres) * scale
        east, high = sheet.corners[0].easting + metres, sheet.corners[0].northing + metres
        parts += [
            f'<line class="line" x1="{across:.1f}" y1="0" x2="{across:.1f}" y2="{_SIZE}"/>',
            f'<line class="line" x1="0" y1="{up:.1f}" x2="{_SIZE}" y2="{up:.1f}"/>',
            f'<text x="{across + 2:.1f}" y="{_SIZE - 4}">{east // 1000 % 100:02d}</text>',
            f'<text x="3" y="{up - 3:.1f}">{high // 1000 % 100:02d}</text>',
        ]
    corner, width = margin * scale, side * scale
    parts.append(f'<rect class="square" x="{corner:.1f}" y="{corner:.1f}" width="{width:.1f}" height="{width:.1f}"/>')
    label = escape(f"Map of {sheet.reference}; north is up, lines every {step / 1000:g} km")
    return f'<svg viewBox="0 0 {_SIZE} {_SIZE}" role="img" aria-label="{label}">{"".join(parts)}</svg>'


def _path(shape: object, point: object) -> str:
    assert callable(point)
    if isinstance(shape, shapely.Polygon):
        rings = [shape.exterior, *shape.interiors]
        return " ".join("M" + "L".join(point(x, y) for x, y, *_ in ring.coords) + "Z" for ring in rings)
    if isinstance(shape, shapely.LineString):
        return "M" + "L".join(point(x, y) for x, y, *_ in shape.coords)
    return ""


def _targets(sheet: FieldSheet) -> list[str]:
    if not sheet.targets:
        return ["<p>No species in particular is expected here: list everything you find.</p>"]
    rows = [_target(target) for target in sheet.targets]
    note = (
        "The chance is that this visit finds it: an expectation, not a promise. List everything you find, not the "
        "targets only. Ticks are not kept when the page closes."
    )
    return ["<ol>", *rows, "</ol>", f"<p><small>{note}</small></p>"]


def _target(target: Target) -> str:
    common = f" ({escape(target.vernacular)})" if target.vernacular else ""
    facts = (
        ("Here", target.status), ("Chance", target.chance), ("When", target.when), ("Where", target.where),
        ("How", target.how), ("To be certain", target.certainty),
    )  # fmt: skip
    told = "".join(f"<dt>{name}</dt><dd>{escape(text)}</dd>" for name, text in facts if text)
    return (
        f'<li class="target"><label><input type="checkbox"><span><em>{escape(target.name)}</em>{common}</span></label>'
        f"<dl>{told}</dl></li>"
    )


def _corners(sheet: FieldSheet) -> list[str]:
    rows = [
        f'<tr><th scope="row">{corner.name}</th><td>{escape(corner.reference)}<br>'
        f"E {corner.easting} N {corner.northing}</td><td>{degrees(corner.latitude, corner.longitude)}</td></tr>"
        for corner in sheet.corners
    ]
    middle = f'<tr><th scope="row">middle</th><td></td><td>{degrees(*sheet.middle)}</td></tr>'
    return [
        f"<table><tr><td></td><td>Grid, metres</td><td>Latitude, longitude</td></tr>{''.join(rows)}{middle}</table>"
    ]


def _last_visits(sheet: FieldSheet) -> list[str]:
    if not sheet.last_visits:
        return ["<p>None is known. No record is not absence.</p>"]
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in visit) + "</tr>" for visit in sheet.last_visits
    )
    return [f"<table>{rows}</table>"]


def _tally() -> list[str]:
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in TALLY_COLUMNS)
    blank = "<tr>" + "<td></td>" * len(TALLY_COLUMNS) + "</tr>"
    return [
        "<p>Write down with every find, and once: date, time from and to, weather, recorders.</p>",
        f'<div class="scroll"><table class="blank"><tr>{heads}</tr>{blank * 6}</table></div>',
    ]
