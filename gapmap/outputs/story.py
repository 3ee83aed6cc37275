"""The story of one square as plain text for a terminal or an e-mail, and as one page of HTML."""

from __future__ import annotations

import base64
import hashlib
import textwrap
from html import escape
from pathlib import Path

from gapmap.coverage.story import Rows, Section, Story
from gapmap.outputs.whole import whole_file

_STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; color: #17202a; background: #fff; max-width: 46em; margin: 2em auto;
  padding: 0 1em; }
h1, h2, h3 { line-height: 1.2; }
h2 { border-bottom: 1px solid #bbb; margin-top: 2em; }
.notice { border: 2px solid #7a4b00; padding: .4em .8em; font-weight: bold; }
table { border-collapse: collapse; font-size: 15px; margin: .5em 0 1em; }
th, td { text-align: left; vertical-align: top; padding: .2em 1em .2em 0; border-bottom: 1px solid #ddd; }
tbody th { font-weight: normal; }
@media (max-width: 40em) { table { display: block; overflow-x: auto; } svg { max-width: 100%; height: auto; } }
@media print { body { margin: 0; max-width: none; } h2 { break-after: avoid; } tr { break-inside: avoid; } }
"""


def story_to_text(story: Story, width: int = 78) -> str:
    """Write a story as plain text.

    Parameters
    ----------
    story
        The story of a square.
    width
        Longest line in characters.

    Examples
    --------
    >>> print(story_to_text(Story("OR47P, a square of 2 km", "", (Section("Now", ("Begun.",), (("Lists", "3"),)),))))
    OR47P, a square of 2 km
    =======================
    <BLANKLINE>
    Now
    ---
    Begun.
    Lists: 3
    <BLANKLINE>
    """
    lines = [_one_line(story.title), "=" * len(story.title)]
    if story.notice:
        lines += [_one_line(story.notice)]
    for section in story.sections:
        lines += ["", section.title, "-" * len(section.title), *_section_lines(section, width)]
    return "\n".join(lines) + "\n"


def story_to_html(story: Story, figure: str = "") -> str:
    """Write a story as one self-contained page of HTML that may load nothing and run nothing.

    Parameters
    ----------
    story
        What is told.
    figure
        A drawing of our own making (SVG) to stand below the title; never text from a file.
    """
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    body = [f"<h1>{escape(story.title)}</h1>"]
    if story.notice:
        body.append(f'<p class="notice">{escape(story.notice)}</p>')
    if figure:
        body.append(f"<figure>{figure}</figure>")
    for section in story.sections:
        body.append(f"<section>\n<h2>{escape(section.title)}</h2>")
        body += [f"<p>{escape(one)}</p>" for one in section.sentences]
        body += [_facts_to_html(section)] if section.facts else []
        body += [_rows_to_html(one) for one in section.tables]
        body.append("</section>")
    return "\n".join([
        "<!DOCTYPE html>", '<html lang="en-GB">', "<head>", '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(story.title)}</title>", f"<style>{_STYLE}</style>", "</head>", "<body>", "<main>", *body,
        "</main>", "</body>", "</html>", "",
    ])


def write_story(story: Story, path: Path) -> None:
    """Write a story to a file: HTML when the name ends in .html or .htm, plain text otherwise.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    text = story_to_html(story) if path.suffix.lower() in (".html", ".htm") else story_to_text(story)
    with whole_file(path) as draft:
        draft.write_text(text, encoding="utf-8")


def _section_lines(section: Section, width: int) -> list[str]:
    lines = []
    for sentence in section.sentences:
        lines += textwrap.wrap(_one_line(sentence), width)
    for what, how_much in section.facts:
        lines += textwrap.wrap(f"{what}: {_one_line(how_much)}", width, subsequent_indent="    ")
    for table in section.tables:
        lines += ["", table.title + ":", *_row_lines(table)]
    return lines


def _row_lines(table: Rows) -> list[str]:
    cells = [table.heads, *(tuple(_one_line(cell) for cell in row) for row in table.rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(table.heads))]
    return [
        "  " + "  ".join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)).rstrip() for row in cells
    ]


def _facts_to_html(section: Section) -> str:
    rows = "\n".join(
        f'<tr><th scope="row">{escape(what)}</th><td>{escape(how_much)}</td></tr>' for what, how_much in section.facts
    )
    return f"<table>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _rows_to_html(table: Rows) -> str:
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in table.heads)
    rows = "\n".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in table.rows)
    return (
        f"<h3>{escape(table.title)}</h3>\n<table>\n<thead>\n<tr>{heads}</tr>\n</thead>\n<tbody>\n{rows}\n</tbody>\n"
        "</table>"
    )


def _one_line(text: str) -> str:
    """Text without line breaks or control characters that could play tricks on a terminal."""
    return " ".join("".join(one if one.isprintable() else " " for one in text).split())
