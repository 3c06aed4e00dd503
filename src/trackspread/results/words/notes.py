"""What a reader must know beside the figures: of a route, of an analysis, of a published copy."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from operator import itemgetter
from types import MappingProxyType

from trackspread.errors import first_few, printable
from trackspread.results.rounding import kilometres
from trackspread.results.words.names import shown_name
from trackspread.results.words.pairs import seconds_told

Ridden = tuple[str, str]
"""A receiver and its ride."""


def _on_ride(receiver: str, ride: str) -> str:
    return f"{shown_name(receiver)} on ride {printable(ride)}"


def _timeless(traces: Sequence[Ridden]) -> str:
    names = first_few([_on_ride(*trace) for trace in traces])
    return f"without times: {names}; a planned line is no recording, and would count as a ride: leave it out"


def _cover_little(traces: Sequence[tuple[str, float, float, float, float]]) -> str:
    return f"on less than half of the route: {first_few([_covers(*trace) for trace in traces], by='; ')}"


def _covers(file: str, share: float, begins_m: float, before_end_m: float, inside_m: float) -> str:
    """Say what of the route a trace lacks, the longest part alone."""
    lacks = (
        (begins_m, "it begins {:,.0f} m after the start"),
        (before_end_m, "it ends {:,.0f} m before the end"),
        (inside_m, "it logged nothing over {:,.0f} m between"),
    )
    most_m, words = max(lacks)
    return f"{printable(file, 60)} ({share:.0%}; {words.format(most_m)})"


def _went_aside(traces: Sequence[tuple[str, str, float, float]]) -> str:
    named = [
        f"{_on_ride(receiver, ride)} at {station_m:,.0f} m ({far_m:,.0f} m)"
        for receiver, ride, station_m, far_m in sorted(traces, key=itemgetter(2))
    ]
    return (
        f"turned aside and came back by the same way, which counts in no figure: {first_few(named, by='; ')}"
    )


def _shared_way(ways: Sequence[tuple[str, float, float]]) -> str:
    told = [f"{kilometres(length_m)} with {printable(name, 40)}" for name, length_m, _ in ways]
    wide_m = [corridor_m for _, _, corridor_m in ways if corridor_m]
    remedy = f"; --corridor {max(wide_m):.0f} makes one route of them" if len(wide_m) == len(ways) else ""
    return f"shares {first_few(told)}, too little to be one route with it (85 % of both){remedy}"


def _holds_laps(files: Sequence[tuple[str, int]]) -> str:
    named = first_few([f"{printable(file, 60)} ({laps})" for file, laps in files])
    return f"of recordings of several laps one lap counts: {named}; with --laps every lap does"


def _ran_alike(pairs: Sequence[tuple[Ridden, Ridden, float]]) -> str:
    named = [f"{_on_ride(*a)} and {_on_ride(*b)} ({seconds_told(s)} apart)" for a, b, s in pairs]
    return (
        f"these ran alike second by second: {first_few(sorted(named), ' pairs', by='; ')}. "
        "If each was one ride and a clock was off, give both the same ride in rides.csv"
    )


def _unknown_watches(count: int, used: int) -> str:
    whose = "all traces" if count == used else f"{count} of {used} traces"
    return (
        f"The watch that made {whose} is unknown, so there are no figures per watch for them: "
        "run trackspread init on the folder, write the names into rides.csv, and analyse again"
    )


SENTENCES: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        "no_times_at_all": "the traces have no times: first fix, clocks and speeds are not measurable",
        "timeless": _timeless,
        "cover_little": _cover_little,
        "shared_way": _shared_way,
        "went_aside": _went_aside,
        "holds_laps": _holds_laps,
        "two_rides": "two rides only: where they part, nobody can say which of them left the way",
        "laps_count": "laps of one recording count as rides: errors that stay alike from lap to lap do not "
        "show in the spread, so it may be too small",
        "ran_alike": _ran_alike,
        "unknown_watches": _unknown_watches,
        "no_route": "no two traces run the same way",
        "cut_for_publishing": "Cut for publishing: both ends of every route are missing, each by a random "
        "length of its own, on every trace that passes there. Stations are counted and segments laid from "
        "the new start. Figures over a whole route, watch or pair are those of the whole analysis.",
        "dates_out": "Dates and the time of the analysis are taken out; times count from the first point "
        "left of a ride.",
        "dates_in": "Dates and times of day are still in it, and so is the time of the analysis.",
        "file_names_in": "Names of files are kept: read them before you publish, they often carry the time "
        "of the start.",
        "file_names_out": "Names of files are replaced by numbers.",
        "other_names_in": "Names of watches, rides and traces and your own notes are as you wrote them: "
        "read them before you publish.",
        "publish_once": "This machine could not keep the secret of the cut, so another run cuts elsewhere: "
        "publish this once, since two different cuts of one place tell more than one.",
        "route_cut_away": "{name} is left out: it is no longer than the cuts at its ends.",
    }
)
