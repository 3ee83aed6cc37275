"""``gapmap range``: which records are odd, and what to ask for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_frame

if TYPE_CHECKING:
    from gapmap.workflow import odd as workflow
    from gapmap.workflow import one_record
else:
    workflow = later("gapmap.workflow.odd")
    one_record = later("gapmap.workflow.one_record")
    # Trees are not grown for one record: a sixth of a second saved.
    later("scipy.spatial")

#: A record no odder than one in so many, with nothing said against it, is called ordinary.
ORDINARY = 10
#: Among fewer records than this nothing can be said to be as odd as one in so many.
FEW = 20


@click.command("range")
@source_options
@click.option("--record", metavar="TEXT", help='Only this record: "Oniscus asellus, OR467723, 12 May 2026".')
@out_option
def command(sources: tuple[str, ...], record: str | None, out: Path | None, **options: str | None) -> None:
    """Say how odd each record is, in what way, which simple slip would explain it, and what to ask for.

    No record is rejected: you decide, with "gapmap decide". Writes odd.html (private), odd-records.csv and .xlsx,
    and replies.txt with a draft letter for each recorder.
    """
    source = one_record.open_source(sources, options)
    if record is not None:
        finding = one_record.judge_kept(source, record)
        if finding is None:
            with progress_bar() as progress:
                finding = workflow.judge_one(source, record, progress)
        _say_finding({str(name): value for name, value in finding.items()})
        return
    with progress_bar() as progress:
        result = workflow.odd_records(source, workflow.output_folder(source, out), progress)
    first = result.queue[result.queue["first"] == "yes"]
    rest = len(result.queue) - len(first)
    say(
        f"{result.judged:,} record{'' if result.judged == 1 else 's'} judged. "
        f"{len(first):,} to look at first (the setting look_first); "
        f"{rest:,} more, at least as odd as one in 20, {'is' if rest == 1 else 'are'} in odd-records.csv too."
    )
    if result.judged < FEW:
        say(f"Among fewer than {FEW} records nothing can be said of how odd one is.")
    if result.newest:
        say(result.newest)
    if len(first):
        say("The oddest:")
        oddest = first.sort_values("one_in", ascending=False, kind="stable").head(12)
        shown = oddest[["species", "reference", "date", "recorders"]]
        say_frame(shown.assign(one_in=oddest["one_in"].round().astype(int)).rename(columns={"one_in": "odd as one in"}))
    say()
    say(f"Open {result.outputs[0]} (private). Draft letters: {result.outputs[3]}.")


def _say_finding(finding: dict[str, object]) -> None:
    say(_how_odd(finding))
    is_ordinary = float(str(finding["one_in"])) < ORDINARY and float(str(finding["among"])) >= FEW
    if not is_ordinary and not finding["reasons"] and not finding["slips"]:
        say("  No single thing about it stands out.")
    if not is_ordinary or finding["reasons"]:
        for sentence in [*str(finding["reasons"]).splitlines(), *str(finding["slips"]).splitlines()]:
            say(f"  {sentence}")
        say(f"  It would help to have: {finding['ask_for']}.")
    for sentence in str(finding["remarks"]).splitlines():
        say(f"  {sentence}")


def _how_odd(finding: dict[str, object]) -> str:
    one_in, among, as_odd = (float(str(finding[name])) for name in ("one_in", "among", "as_odd"))
    if among < FEW:
        known = "1 accepted record with a place is" if among == 1 else f"{among:.0f} accepted records with a place are"
        return f"Only {known} known: too few to say how odd one more is."
    if one_in < ORDINARY:
        return "On the whole it is like most accepted records." if finding["reasons"] else "Nothing stands out."
    if not as_odd:
        return f"None of the {among:,.0f} accepted records with a place is this odd."
    return f"One in {one_in:,.0f} accepted records is this odd."
