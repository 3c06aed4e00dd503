"""The page of an archive: who is most consistent on each campaign, watch by watch, then every route."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any, Protocol
from urllib.parse import quote

from trackspread.errors import printable
from trackspread.report.simple_page import TABLE_CSS, scrolled, simple_page
from trackspread.results.rounding import counted, plain, share, with_interval

_WATCHES = ("Folder", "Watch", "Spread", "First fix", "Astray", "Group", "Rides")
_ROUTES = ("Folder", "Route", "Spread", "First fix", "Steady", "Stretches", "Traces", "Watches", "Length")
_CSS = f"""
main {{ max-width: 72rem; margin: 0 auto; padding: var(--space-6) var(--space-4); }}
h2 {{ margin-top: var(--space-5); }}
{TABLE_CSS}"""


class Outcome(Protocol):
    """What the index needs to know of a route folder."""

    @property
    def name(self) -> str:
        """Path of the folder below the root."""

    @property
    def state(self) -> str:
        """``done``, ``known`` or ``failed``."""

    @property
    def reason(self) -> str:
        """Why it failed, or has no figures per watch."""

    @property
    def rows(self) -> tuple[dict[str, Any], ...]:
        """One row a route."""


def archive_page(outcomes: Sequence[Outcome]) -> str:
    """Return the page; every text is escaped, every link leads into a folder below.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of all route folders, in the order of the page.

    Returns
    -------
    str
        HTML.
    """
    failed = [outcome for outcome in outcomes if outcome.state == "failed"]
    watches = [
        _row(outcome, _watch(watch))
        for outcome in outcomes
        for watch in (outcome.rows[0].get("watches", ()) if outcome.rows else ())
    ]
    routes = [_row(outcome, _route(row)) for outcome in outcomes for row in outcome.rows]
    aside = "".join(f"<li>{escape(printable(o.name, 300))}: {escape(o.reason)}</li>" for o in failed)
    parts = [
        f"<p>{counted(len(outcomes), 'folder')}, {len(failed)} set aside. Campaigns differ in route and sky: "
        "compare watches within one folder. Watches of one folder that share a letter show no detectable "
        "difference.</p>",
        f"<h2>Watches</h2>{scrolled(_WATCHES, watches, 'Watches')}" if watches else "",
        f"<h2>Routes</h2>{scrolled(_ROUTES, routes, 'Routes')}",
        f"<h2>Set aside</h2><ul>{aside}</ul>" if failed else "",
    ]
    return simple_page("All routes of the archive", _CSS, "\n".join(filter(None, parts)))


def _row(outcome: Outcome, cells: Iterable[str]) -> str:
    link = quote(os.fsencode(f"{outcome.name}/report.html"))
    rest = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
    return f'<tr><td><a href="{escape(link)}">{escape(printable(outcome.name, 300))}</a></td>{rest}</tr>'


def _watch(watch: dict[str, Any]) -> tuple[str, ...]:
    """Return the cells of one watch over all routes of its folder."""
    spread, fix = watch["spread"], watch["first_fix_s"]
    return (
        printable(watch["receiver"], 60) or "not known",
        with_interval(spread["value_m"], spread["low_m"], spread["high_m"], "m"),
        _first_fix(fix["median"], fix["low"], fix["high"], fix["n"]),
        share(watch["stray_share"]["value"]), watch.get("group") or "", str(watch["rides"]),
    )  # fmt: skip


def _route(row: dict[str, Any]) -> tuple[str, ...]:
    fix = (row["first_fix_s"], row["first_fix_low_s"], row["first_fix_high_s"], row["first_fixes"])
    return (
        printable(row.get("title") or row["route"], 60),
        with_interval(row["spread_m"], row["spread_low_m"], row["spread_high_m"], "m"),
        _first_fix(*fix), share(row["steady_share"]), str(row["stretches"]), str(row["traces"]),
        str(row["receivers"]), f"{row['length_m'] / 1000:.2f} km",
    )  # fmt: skip


def _first_fix(median: float | None, low: float | None, high: float | None, count: int) -> str:
    """Return the median first fix with its interval, or that no start was noted."""
    if median is None:
        return "unknown: no start noted"
    if count == 1 or low is None or high is None:
        return f"{plain(median)} s ({counted(count, 'trace')})"
    return f"{with_interval(median, low, high, 's')}"
