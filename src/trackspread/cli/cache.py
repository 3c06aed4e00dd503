"""``trackspread cache``: show or clear the cache of parsed traces and steps of analyses."""

from __future__ import annotations

import click


@click.command()
@click.option("--clear", is_flag=True, help="Delete all entries.")
def command(clear: bool) -> None:
    """Show where the cache of parsed traces and steps of analyses is and how much it holds."""
    from trackspread.system.cache import entries, folder, trim

    if clear:
        click.echo(f"{trim(0)} entries deleted from {folder()}")
        return
    known = entries()
    click.echo(f"{folder()}: {len(known)} entries, {sum(size for _, size, _ in known) / 2**20:.1f} MiB")
