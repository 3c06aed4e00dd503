"""The command line: parse, call the API, print. Commands are imported only when they are asked for."""

from __future__ import annotations

import gc
import importlib
import sys

import click

from trackspread import __version__
from trackspread.errors import Cancelled, TrackspreadError, printable
from trackspread.system.signals import silence

OK, SOME_SET_ASIDE, EXIT_NOTHING, INTERRUPTED = 0, 1, 2, 130
"""Exit codes, the last one 128 + SIGINT as in shells."""

MOST_ON_A_LINE = 4000
"""Characters of one line on standard error."""
_COMMANDS = {
    "analyse": "Analyse repeated traces: report, map, tables and layers.",
    "init": "Write a rides.csv filled with what could be guessed, to correct by hand.",
    "log": "Write the page for the phone that notes when start was pressed.",
    "plan": "How many rides are enough.",
    "rank": "Compare the watches of several analyses.",
    "share": "Make a copy of a finished analysis with cut ends, to show to others.",
    "film": "Film list, stills and the full-screen sequence of a finished analysis.",
    "drop": "Open the drop page in the browser of this machine.",
    "archive": "Analyse every route folder below a root.",
    "cache": "Show or clear the cache of parsed traces and steps of analyses.",
}


class LazyGroup(click.Group):
    """A group whose commands are modules ``trackspread.cli.<name>`` with an object ``command``."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the job."""
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"trackspread.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="trackspread")
def trackspread() -> None:
    """Say how closely repeated traces of one route agree, and how certain that is.

    Exit codes: 0 all used; 1 done, but some input was set aside; 2 nothing could be done;
    130 interrupted.
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; every foreseeable error ends in a line, never in a traceback.

    Parameters
    ----------
    arguments : list of str, optional
        Words of the command line; those of this process without it.

    Raises
    ------
    SystemExit
        Always, with the exit code.
    """
    gc.set_threshold(100_000, 50, 50)  # parsed points are many small objects without cycles
    try:
        code = trackspread.main(args=arguments, prog_name="trackspread", standalone_mode=False)
        status = code if isinstance(code, int) else OK
    except click.ClickException as error:
        _say_misuse(error, sys.argv[1:] if arguments is None else arguments)
        status = EXIT_NOTHING
    except (click.Abort, KeyboardInterrupt, Cancelled):
        _say("trackspread: interrupted; nothing was left half-written")
        status = INTERRUPTED
    except TrackspreadError as error:
        _say(f"trackspread: {error}")
        status = EXIT_NOTHING
    except BrokenPipeError:
        silence(sys.stdout)
        status = OK
    except OSError as error:
        name = printable(str(error.filename)) if error.filename else "the system"
        _say(f"trackspread: {name}: {error.strerror or error}")
        status = EXIT_NOTHING
    except MemoryError:
        _say("trackspread: the memory of this machine is not enough; analyse fewer traces at once")
        status = EXIT_NOTHING
    sys.exit(status)


def _say(text: str) -> None:
    """Say one thing on standard error; where nobody can hear it, the exit code tells."""
    try:
        click.echo("\n".join(printable(line, MOST_ON_A_LINE) for line in text.split("\n")), err=True)
    except OSError:
        silence(sys.stderr)


def _say_misuse(error: click.ClickException, arguments: list[str]) -> None:
    """Say in one line what is wrong with the arguments, and where all of them are told."""
    if not arguments:
        error.show()  # the help itself
        return
    called = f"trackspread {arguments[0]}" if arguments[0] in _COMMANDS else "trackspread"
    words = " ".join(error.format_message().split()).removesuffix(".")
    see = " See" if words.endswith("?") else "; see"
    _say(printable(f"{called}: {words[:1].lower()}{words[1:]}{see} {called} --help", 600))
