"""docs/cli.md against the command line: commands, arguments, options, defaults, ranges, exit codes."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from documents import DOCS, headings, rows, section

from trackspread import cli
from trackspread.options import Options

CLI = DOCS / "cli.md"
COMMANDS = cli.trackspread.list_commands(click.Context(cli.trackspread))


def command(name: str) -> click.Command:
    found = cli.trackspread.get_command(click.Context(cli.trackspread), name)
    assert found is not None
    return found


def shown_default(option: click.Option) -> str:
    """Return the default as the document shows it; an option without one has an empty cell."""
    if (
        option.is_flag
        or option.default in (None, "", ())
        or not isinstance(option.default, str | int | float | Path)
    ):
        return ""
    return f"{option.default:g}" if isinstance(option.default, float) else str(option.default)


def test_every_command_has_a_section() -> None:
    assert [h.strip("`").removeprefix("trackspread ") for h in headings(CLI, 2)][: len(COMMANDS)] == COMMANDS


@pytest.mark.parametrize("name", COMMANDS)
def test_options_and_defaults_are_those_of_the_code(name: str) -> None:
    told = {row[0].split()[0].strip("`"): row[1] for row in rows(section(CLI, f"`trackspread {name}`"))}
    options = [p for p in command(name).params if isinstance(p, click.Option) and not p.hidden]
    found = {max(option.opts, key=len): shown_default(option) for option in options}
    assert told == found


def test_every_threshold_can_be_set() -> None:
    names = {p.name for p in command("analyse").params}
    assert set(Options().as_dict()) - names == set()


def test_exit_codes_are_those_of_the_code() -> None:
    told = {int(row[0]) for row in rows(section(CLI, "Exit codes"))}
    assert told == {cli.OK, cli.SOME_SET_ASIDE, cli.EXIT_NOTHING, cli.INTERRUPTED}
