"""``trackspread log``: the page for the phone that notes when start was pressed and the fix was shown."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("ride-log.html"),
    show_default=True,
    help="The page to write.",
)
@click.option("--watch", "watches", multiple=True, metavar="NAME", help="A watch to offer; may be repeated.")
@click.option("--overwrite", is_flag=True, help="Replace a page that is there.")
def command(out: Path, watches: tuple[str, ...], overwrite: bool) -> None:
    """Write one page that works offline on a phone and notes times for rides.csv.

    Stand still while you press; never work it while riding. Press "Start pressed" before leaving, "Fix
    shown" when the watch says so, "Stopped" after arrival. Save the rows as rides.csv beside the
    recordings: they are matched by watch and time.
    """
    from trackspread.cli.files import write_new
    from trackspread.web.ride_log import log_page

    write_new(out, log_page(watches), overwrite)
