"""The ``gapmap`` command: a list of commands, each in a file of its own, loaded only when called."""

from __future__ import annotations

import difflib
import gc
import importlib
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path

import click

from gapmap import __version__
from gapmap.cli.progress import complain
from gapmap.errors import GapmapError
from gapmap.records.memory import keep_few_arenas, seldom_collecting

#: Command → (chapter of the help, what it does); each is the object ``command`` of the module ``NAME_command``.
COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("The area", "Start an area folder."),
    "check": ("The area", "Read everything and say what is doubtful."),
    "coverage": ("The map", "Draw how well each square has been looked at."),
    "square": ("The map", "Tell the whole story of one square."),
    "expected": ("What is still to find", "Say what is expected where, when and how to look."),
    "backtest": ("What is still to find", "Hide the last years, predict them, and score it."),
    "range": ("Odd records", "Say how odd each record is and what to ask for."),
    "decide": ("Odd records", "Write down what was decided about a record."),
    "report": ("For print and for everybody", "Write everything, private and public apart."),
    "visits": ("Going out", "Plan who goes where and when, and make what they take along."),
    "plate": ("For print and for everybody", "Draw one picture for print or a slide."),
    "atlas": ("For print and for everybody", "Draw a page for every species in one PDF."),
}


#: What the database calls it when memory is full; it is not loaded here to be asked.
_MEMORY_FULL = "OutOfMemoryException"


class _Commands(click.Group):
    """A group whose commands are imported when they are called, not when they are listed."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"gapmap.cli.{cmd_name}_command").command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            raise GapmapError(
                "There is no such command",
                found=args[0],
                do=f"did you mean {near[0]}?" if near else "see the list with: gapmap --help",
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for chapter in dict.fromkeys(chapter for chapter, _ in COMMANDS.values()):
            with formatter.section(chapter):
                formatter.write_dl([(name, text) for name, (part, text) in COMMANDS.items() if part == chapter])


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="gapmap", message="%(prog)s %(version)s")
def app() -> None:
    """Show what is still to find, where, and who should go when.

    Give any command your record files, or a folder that "gapmap new" started.
    """


def main() -> None:
    """Run a command; whatever goes wrong is told in sentences."""
    # The matrices here are small: threads inside each product only wait for one another (a fifth of a report's time).
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    keep_few_arenas()
    with seldom_collecting():
        status = run()
    # What is left goes with the process; looking through it for rings first takes a tenth of a second.
    gc.freeze()
    sys.exit(status)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 for done, 2 for something to mend, 1 for a fault of ours.

    Parameters
    ----------
    arguments
        Words after ``gapmap``; those of the process otherwise.
    """
    try:
        app(args=None if arguments is None else list(arguments), standalone_mode=False)
    except GapmapError as error:
        complain(f"gapmap: {error}")
        return 2
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.exceptions.NoArgsIsHelpError as asked:
        complain(asked.format_message())
        return 2
    except click.ClickException as error:
        complain(f"gapmap: {error.format_message()}")
        if isinstance(error, click.UsageError) and error.ctx is not None:
            complain(f"See: {error.ctx.command_path} --help")
        return 2
    except (KeyboardInterrupt, click.Abort):
        complain("gapmap: stopped. Finished files are whole; nothing is half written.")
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if isinstance(error, MemoryError) or type(error).__name__ == _MEMORY_FULL:
            complain("gapmap: the computer's memory is full. Close other programs, or use a larger square.")
            return 1
        complain(
            f"gapmap: this is a fault in gapmap itself ({type(error).__name__}); your files are unchanged. "
            f"Please send {_save_fault()} to whoever looks after gapmap for you."
        )
        return 1
    return 0


def _save_fault() -> Path:
    with tempfile.NamedTemporaryFile(
        "w", prefix="gapmap-fault-", suffix=".txt", delete=False, encoding="utf-8"
    ) as file:
        file.write(f"gapmap {__version__}\n{sys.version}\n{' '.join(sys.argv)}\n\n{traceback.format_exc()}")
    return Path(file.name)
