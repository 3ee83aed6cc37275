"""The page of a backtest: how far to trust the list, a reliability curve, and the scores beside the baselines."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from gapmap.coverage.reasons import percent
from gapmap.coverage.story import Rows, Section, Story
from gapmap.expected.backtest import Backtest
from gapmap.outputs.story import story_to_html
from gapmap.outputs.whole import whole_file

_HEADS = {
    "auc": "AUC", "average_precision": "average precision", "log_loss": "log loss", "brier": "Brier score",
    "calibration_slope": "calibration slope", "calibration_intercept": "calibration intercept",
    "five_best": "five best found",
}  # fmt: skip
_SIZE, _MARGIN = 380, 64


def write_backtest_page(result: Backtest, title: str, notice: str, path: Path) -> None:
    """Write the page of a backtest.

    Parameters
    ----------
    result
        What came of it.
    title, notice
        Heading, and a line shown above everything such as that the data are invented; may be empty.
    path
        The ``.html`` to write.
    """
    counts = (
        ("Known until the end of", str(result.until)),
        ("Pairs of a square and a species asked about", f"{len(result.table):,}"),
        ("Of these found afterwards", f"{int(result.table['found'].sum()):,}"),
    )
    sections = (
        Section("How far to trust the list", (result.verdict,), counts),
        Section("Scores", (_READING,), (), (_scores(result.scores),)),
        Section("Reliability", (_CURVE,), (), (_bins(result.reliability),)),
    )
    with whole_file(path) as draft:
        draft.write_text(
            story_to_html(Story(title, notice, sections), reliability_to_svg(result.reliability)), encoding="utf-8"
        )


def reliability_to_svg(bins: pd.DataFrame) -> str:
    """The reliability curve as a drawing: chance said against share found, with 95 % intervals.

    Parameters
    ----------
    bins
        As expected.scores.reliability gives them.

    Examples
    --------
    >>> empty = pd.DataFrame(columns=["pairs", "chance", "found", "found_low", "found_high"])
    >>> "<circle" in reliability_to_svg(empty)
    False
    """
    inner = _SIZE - 2 * _MARGIN

    def x(value: float) -> str:
        return f"{_MARGIN + value * inner:.1f}"

    def y(value: float) -> str:
        return f"{_SIZE - _MARGIN - value * inner:.1f}"

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SIZE} {_SIZE}" width="{_SIZE}" role="img" '
        'aria-label="Share found against the chance said; the table below holds the numbers">',
        f'<rect x="{x(0)}" y="{y(1)}" width="{inner}" height="{inner}" fill="none" stroke="#555"/>',
        f'<line x1="{x(0)}" y1="{y(0)}" x2="{x(1)}" y2="{y(1)}" stroke="#999" stroke-dasharray="5 4"/>',
    ]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        label = percent(share)
        parts.append(
            f'<text x="{x(share)}" y="{_SIZE - _MARGIN + 18}" font-size="12" text-anchor="middle">{label}</text>'
        )
        parts.append(
            f'<text x="{_MARGIN - 6}" y="{float(y(share)) + 4:.1f}" font-size="12" text-anchor="end">{label}</text>'
        )
    for row in bins[bins["pairs"] > 0].to_dict("records"):
        middle = x(row["chance"])
        low, high = y(row["found_low"]), y(row["found_high"])
        parts.append(f'<line x1="{middle}" y1="{low}" x2="{middle}" y2="{high}" stroke="#00224e" stroke-width="2"/>')
        parts.append(f'<circle cx="{middle}" cy="{y(row["found"])}" r="4" fill="#00224e"/>')
    parts.append(f'<text x="{_SIZE / 2}" y="{_SIZE - 6}" font-size="13" text-anchor="middle">chance said before</text>')
    parts.append(
        f'<text x="14" y="{_SIZE / 2}" font-size="13" text-anchor="middle" '
        f'transform="rotate(-90 14 {_SIZE / 2})">share found after</text></svg>'
    )
    return "".join(parts)


_READING = (
    "The model and three plain baselines were asked the same questions. A higher AUC and average precision, and a "
    "lower log loss and Brier score, are better; a calibration slope of 1 and intercept of 0 mean that chances are "
    "what they say."
)
_CURVE = "Where the points lie on the dashed line, a chance of 30 % was found three times in ten."


def _scores(scores: pd.DataFrame) -> Rows:
    rows = [(str(name), *(_number(row[column]) for column in _HEADS)) for name, row in scores.iterrows()]
    return Rows("Scores of each method", ("method", *_HEADS.values()), tuple(rows))


def _bins(bins: pd.DataFrame) -> Rows:
    rows = [
        (
            f"{percent(row['low'])} to {percent(row['high'])}",
            f"{int(row['pairs']):,}",
            percent(row["chance"]),
            percent(row["found"]),
            f"{percent(row['found_low'])} to {percent(row['found_high'])}",
        )
        for row in bins[bins["pairs"] > 0].to_dict("records")
    ]
    return Rows(
        "Chances said and shares found", ("said", "pairs", "mean chance", "found", "95 % interval"), tuple(rows)
    )


def _number(value: float) -> str:
    return "" if pd.isna(value) else f"{value:.3f}"
