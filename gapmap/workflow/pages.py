"""From what was counted to the contents of a page: the words around the tables."""

from __future__ import annotations

from datetime import date

from gapmap.coverage.reasons import percent
from gapmap.coverage.tally import too_coarse_squares
from gapmap.outputs.page.contents import Page
from gapmap.settings import ThresholdsSection
from gapmap.workflow.area import read_backgrounds
from gapmap.workflow.source import Source
from gapmap.workflow.stages import Counted


def coverage_page(source: Source, counted: Counted) -> Page:
    """Contents of the private page with the coverage views; other views are added with ``replace``."""
    area = source.settings.area
    lists, _ = counted.lists_and_finds()
    on_the_map = lists["square"].isin(counted.effort["square"])
    files = counted.records.files
    return Page(
        title=area.name,
        system=counted.records.system,
        side=counted.side,
        classes=counted.classes,
        species=counted.records.species,
        tally=counted.tally,
        effort=counted.effort,
        standing=counted.standing,
        lists=lists[on_the_map].reset_index(drop=True),
        made_on=date.today(),
        files=files.loc[files["records"] > 0, "file"].astype(str).tolist(),
        thresholds=threshold_lines(source.settings.thresholds),
        remarks=counted.remarks,
        too_coarse=counted.coarse,
        too_coarse_squares=too_coarse_squares(counted.records, counted.side) if counted.coarse else None,
        boundary=counted.boundary,
        background=read_backgrounds(source, counted.records.system),
        notice=area.notice,
        tiles=source.settings.tiles if source.settings.tiles.address else None,
    )


def threshold_lines(thresholds: ThresholdsSection) -> list[str]:
    """The thresholds as sentences for the legend."""
    shares = thresholds.part_share, thresholds.well_share, thresholds.sure_share
    part, well, sure = map(percent, shares)
    return [
        f"begun: fewer than {thresholds.enough_visits} visits, so that the species there cannot be estimated yet, "
        f"or less than {part} of the estimated species found",
        f"part covered: at least {part} of them",
        f"well covered: at least {well} of them, {sure} of as many as the data would allow, and {well} of "
        f"{thresholds.stale_species} or more known from before found again",
    ]
