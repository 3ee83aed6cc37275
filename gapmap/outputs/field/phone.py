"""A field sheet for a telephone: one page of HTML that loads nothing and runs nothing, so it works without signal."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable
from html import escape
from pathlib import Path

import shapely

from gapmap.outputs.field.vicinity import Vicinity, line_label, line_places, step_in_words
from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import NOTHING_EXPECTED, TALLY_COLUMNS, TALLY_HEAD, FieldSheet, Target, degrees

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
.river { stroke: #5b86a3; stroke-width: 2; } .road { stroke: #a0714a; stroke-width: 2.4; }
.way { fill: none; } .area { fill-rule: evenodd; } .sea { fill: #dbe7ee; } .paper { fill: #fbfaf6; }
.square { fill: none; stroke: #17202a; stroke-width: 4; } .line { stroke: #4a5560; stroke-width: .6; opacity: .6; }
text { font: 11px system-ui, sans-serif; fill: #17202a; }
.place { font-weight: bold; paint-order: stroke; stroke: #fff; stroke-width: 3px; }
ol { list-style: none; margin: 0; padding: 0; }
li.target { border-bottom: 1px solid #b9bfc4; padding: .55em 0; }
label { display: flex; gap: .6em; align-items: flex-start; min-height: 44px; }
input { width: 26px; height: 26px; flex: none; margin: .1em 0; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1em .5em; margin: .1em 0 0 2.3em; font-size: .92em; }
dt { color: #4a5560; } dd { margin: 0; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-size: .85em; width: 100%; }
th, td { border: 1px solid #8b949b; padding: .3em .4em; text-align: left; vertical-align: top; }
.blank th { white-space: nowrap; } .blank td { height: 2.1em; min-width: 4.5em; }
th, td { overflow-wrap: normal; } ul.plain { list-style: none; margin: 0; padding: 0; }
.safety { background: #e4e1d8; border: 1px solid #17202a; padding: .2em .9em .6em; margin-top: 1.6em; }
.safety ul { padding-left: 1.1em; margin: .3em 0; }
@media print { body { max-width: none; } li.target, .safety { break-inside: avoid; } }
"""
_SIZE = 360


def write_sheet_html(sheet: FieldSheet, around: Vicinity, path: Path) -> None:
    """Write one visit as a page for a telephone."""
    with whole_file(path) as draft:
        draft.write_text(sheet_to_html(sheet, around), encoding="utf-8")


def sheet_to_html(sheet: FieldSheet, around: Vicinity) -> str:
    """The page as text; every word from a file is escaped, and a policy forbids the network and scripts."""
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    title = f"{sheet.reference}, {sheet.when}"
    body = [
        f"<h1>{escape(sheet.reference)}</h1>",
        f"<p><strong>{escape(sheet.when)}</strong><br>{escape(' and '.join(sheet.people))} · {escape(sheet.area)}</p>",
        *([f'<p class="notice">{escape(sheet.notice)}</p>'] if sheet.notice else []),
        *(f"<p><strong>{escape(remark)}</strong></p>" for remark in sheet.remarks),
        f'<p><a href="#reminder">{escape(sheet.safety_title)}: read it before you set out</a></p>',
        square_map(sheet, around),
        *([f"<p>Ground: {escape(sheet.ground)}</p>"] if sheet.ground else []),
        "<h2>Look for</h2>", *_targets(sheet),
        "<h2>Corners</h2>", *_corners(sheet),
        "<h2>Latest lists from here</h2>", *_last_visits(sheet),
        "<h2>Tally</h2>", *_tally(),
        f'<section class="safety" id="reminder"><h2>{escape(sheet.safety_title)}</h2><ul>',
        *(f"<li>{escape(sentence)}</li>" for sentence in sheet.safety), "</ul></section>",
    ]  # fmt: skip
    return "\n".join([
        "<!DOCTYPE html>", '<html lang="en-GB">', "<head>", '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title>", f"<style>{_STYLE}</style>", "</head>", "<body>", "<main>", *body,
        "</main>", "</body>", "</html>", "",
    ])  # fmt: skip


def square_map(sheet: FieldSheet, around: Vicinity) -> str:
    """The square with what lies around it, as a drawing (SVG)."""
    scale = _SIZE / around.size

    def point(east: float, north: float) -> tuple[float, float]:
        return (east - around.west) * scale, _SIZE - (north - around.south) * scale

    parts = [f'<rect class="{"sea" if around.has_land else "paper"}" width="{_SIZE}" height="{_SIZE}"/>']
    parts += [f'<path class="{kind} {_form(shape)}" d="{_path(shape, point)}"/>' for kind, shape in around.shapes]
    for east in line_places(around.west, around.size, around.step):
        across = point(east, around.south)[0]
        parts.append(f'<line class="line" x1="{across:.1f}" y1="0" x2="{across:.1f}" y2="{_SIZE}"/>')
        parts.append(f'<text x="{across + 2:.1f}" y="{_SIZE - 4}">{line_label(east, around.step)}</text>')
    for north in line_places(around.south, around.size, around.step):
        up = point(around.west, north)[1]
        parts.append(f'<line class="line" x1="0" y1="{up:.1f}" x2="{_SIZE}" y2="{up:.1f}"/>')
        parts.append(f'<text x="3" y="{up - 3:.1f}">{line_label(north, around.step)}</text>')
    left, top = point(sheet.corners[1].easting, sheet.corners[1].northing)
    width = sheet.side * scale
    parts.append(f'<rect class="square" x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{width:.1f}"/>')
    parts += [_place(*point(east, north), name) for east, north, name in around.names]
    label = escape(f"Map of {sheet.reference}; north is up, lines every {step_in_words(around.step)}")
    return f'<svg viewBox="0 0 {_SIZE} {_SIZE}" role="img" aria-label="{label}">{"".join(parts)}</svg>'


def _place(across: float, up: float, name: str) -> str:
    """A place with its name to the side where there is more room."""
    anchor, start = ("start", across + 5) if across < _SIZE / 2 else ("end", across - 5)
    return (
        f'<circle cx="{across:.1f}" cy="{up:.1f}" r="2.5"/>'
        f'<text class="place" x="{start:.1f}" y="{up + 4:.1f}" text-anchor="{anchor}">{escape(name)}</text>'
    )


def _form(shape: shapely.Geometry) -> str:
    return "area" if isinstance(shape, shapely.Polygon) else "way"


def _path(shape: shapely.Geometry, point: Callable[[float, float], tuple[float, float]]) -> str:
    if isinstance(shape, shapely.Polygon):
        return " ".join(f"M{_corners_of(ring, point)}Z" for ring in (shape.exterior, *shape.interiors))
    return f"M{_corners_of(shape, point)}"


def _corners_of(line: shapely.Geometry, point: Callable[[float, float], tuple[float, float]]) -> str:
    places = (point(float(east), float(north)) for east, north in shapely.get_coordinates(line))
    return "L".join(f"{across:.1f} {up:.1f}" for across, up in places)


def _targets(sheet: FieldSheet) -> list[str]:
    if not sheet.targets:
        return [f"<p>{NOTHING_EXPECTED}</p>"]
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
        f"E {corner.easting}<br>N {corner.northing}</td><td>{degrees(corner.latitude, corner.longitude)}</td></tr>"
        for corner in sheet.corners
    ]
    middle = f'<tr><th scope="row">middle</th><td></td><td>{degrees(*sheet.middle)}</td></tr>'
    return [
        f"<table><tr><td></td><td>Grid, metres</td><td>Latitude, longitude</td></tr>{''.join(rows)}{middle}</table>"
    ]


def _last_visits(sheet: FieldSheet) -> list[str]:
    if not sheet.last_visits:
        return ["<p>None is known. No record is not absence.</p>"]
    rows = "".join(f"<li>{escape(', '.join(part for part in visit if part))}</li>" for visit in sheet.last_visits)
    return [f'<ul class="plain">{rows}</ul>']


def _tally() -> list[str]:
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in TALLY_COLUMNS)
    blank = "<tr>" + "<td></td>" * len(TALLY_COLUMNS) + "</tr>"
    return [
        f"<p>Write down with every find; and once: {escape(', '.join(TALLY_HEAD).lower())}.</p>",
        f'<div class="scroll"><table class="blank"><tr>{heads}</tr>{blank * 6}</table></div>',
    ]
