"""``trackspread drop``: the drop page, on this machine only."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.option(
    "--keep",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Leave traces, rides.csv and result in this new or empty folder; else all is deleted at the end.",
)
@click.option("--no-browser", is_flag=True, help="Print the address only.")
def command(keep: Path | None, no_browser: bool) -> None:
    """Open the drop page in the browser of this machine.

    Drop files, check what was read, run, and save the result. Nothing leaves this machine, and
    everything is deleted when the session ends.
    """
    from trackspread.web.server import serve

    serve(click.echo, keep=keep, open_browser=not no_browser)
