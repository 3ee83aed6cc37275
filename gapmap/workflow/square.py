"""``gapmap square``: the whole story of one square."""

from __future__ import annotations

from pathlib import Path

from gapmap.columns import NO_SQUARE
from gapmap.coverage.story import Story, square_story
from gapmap.errors import GridError
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import parent
from gapmap.outputs.story import story_to_text, write_story
from gapmap.outputs.whole import file_word
from gapmap.settings import AreaSection
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, read_and_count, squares_words

__all__ = ["open_source", "output_folder", "square", "text_to_square"]


def square(source: Source, reference: str, out: Path, progress: Progress | None = None) -> tuple[str, Path]:
    """Tell everything known about one square.

    Returns
    -------
    str, Path
        The story as plain text, and the page it was written to.

    Raises
    ------
    GapmapError
        The reference cannot be read, lies in no one square of the map, or nothing is known there.
    """
    counted = read_and_count(source, progress)
    packed = text_to_square(reference, source.settings.area, counted)
    story = _story(source, counted, packed)
    path = out / f"square-{file_word(str(squares_to_references([packed])[0]))}.html"
    write_story(story, path)
    return story_to_text(story), path


def text_to_square(reference: str, area: AreaSection, counted: Counted) -> int:
    """The map's square a person means: the one they name, or the one that holds a finer reference whole.

    Raises
    ------
    GridError
        It cannot be read, is wider than the map's squares, or lies across several of them.
    """
    resolved = references_to_squares([reference], area.grid, area.zones)
    packed = int(resolved.squares[0])
    if packed == NO_SQUARE:
        raise GridError(str(resolved.sentence[0]), do=str(resolved.suggestion[0]) or "write it as on the map")
    holding = int(parent([packed], counted.side)[0])
    if holding == NO_SQUARE:
        raise GridError(
            f"This reference lies in no one square of the map, which has {squares_words(counted.side)}",
            found=reference, do="write the square as the map's table does, or choose another --square",
        )  # fmt: skip
    return holding


def _story(source: Source, counted: Counted, packed: int) -> Story:
    return square_story(
        packed, counted.tally, counted.effort, counted.standing, counted.records.species, counted.classes,
        source.settings.thresholds, notice=source.settings.area.notice,
    )  # fmt: skip
