"""The sentence of every reason: from a code and its values to what people read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType

from trackspread.model import Reason
from trackspread.results.words import notes, pairs, segments


def said(reason: Reason) -> str:
    """Return a reason in words; those beside it follow as sentences, or behind a semicolon.

    Parameters
    ----------
    reason : Reason
        Its code is one of `SENTENCES`.

    Returns
    -------
    str
        ``""`` for `NOTHING`.

    Examples
    --------
    >>> said(Reason.of("too_small", extent_m=42.0, least_m=100.0))
    'it stays within 42 m; a route needs 100 m'
    """
    text = ""
    for one in map(_one, reason):
        text += one if not text else f" {one}" if text.endswith(".") else f"; {one}"
    return text


def told_codes(reason: Reason) -> str:
    """Return the codes of a reason, parted by spaces.

    Parameters
    ----------
    reason : Reason

    Returns
    -------
    str
    """
    return " ".join(reason.codes)


def _one(reason: Reason) -> str:
    sentence = SENTENCES[reason.code]
    values = {name: said(value) if isinstance(value, Reason) else value for name, value in reason.values}
    return sentence.format(**values) if isinstance(sentence, str) else sentence(**values)


def _too_few_points(least: int, usable: int, read: int, fell: tuple[tuple[int, str], ...]) -> str:
    why = "; ".join(f"{count} {code}" for count, code in fell)
    return f"fewer than {least} usable points: {usable} of {read} read" + (f" ({why})" if why else "")


def _came(what: str, met_m: float | None = None) -> str:
    where = "" if met_m is None else f" at {met_m:.0f} m"
    return f"it came by another way and met the {what}{where}"


def _reference_too_long(near_m: float, route_m: float) -> str:
    return (
        f"the reference holds {near_m / 1000:,.0f} km of line around this route of {route_m / 1000:,.1f} km; "
        "a file with one line along the route is needed"
    )


def _partly(inside: float, held: float, needed: float) -> str:
    return (
        f"{int(100 * inside)}% of its way is shared with the nearest route, and it covers "
        f"{int(100 * held)}% of that route; {needed:.0%} of both are needed"
    )


SENTENCES: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        **segments.SENTENCES,
        **pairs.SENTENCES,
        **notes.SENTENCES,
        "told": "{text}",
        # first and settled fix
        "no_start": "no start time was noted",
        "fix_was_there": "the fix was there when start was pressed",
        "head_is_first_point": "the time in the file's head is that of its first point, which is no evidence",
        "later_lap": "a later lap of a recording that was running already",
        "later_ride": "a later ride of a recording that was running already",
        "no_times": "the trace has no times",
        "no_times_here": "the trace has no times here",
        "no_others_to_settle_on": "fewer than two other rides to settle on",
        "never_near": "the trace never comes within {reach_m:g} m of the line",
        "too_short_to_settle": "beside the others for {seconds:.0f} s only; {hold_s:g} s are needed",
        "never_settled": "never within {band_m:.1f} m for {hold_s:g} s",
        "half_never_settled": "half or more of the rides never settled",
        "came_another_way": partial(_came, "route"),
        "met_the_others": partial(_came, "others"),
        "first_off_line": "the first position is away from the line",
        "not_measurable": "not measurable",
        "withheld_start": "withheld: it would tell where the route starts",
        "withheld_dates": "withheld: dates are left out",
        # spread, share, comparison
        "one_ride_here": "fewer than two rides here",
        "one_ride_on_route": "fewer than two rides on one route",
        "one_ride": "fewer than two rides",
        "fix_not_noted": "nobody noted when the watch showed its fix",
        "one_ride_with_another": "fewer than two rides with another watch",
        "nothing_to_compare_on": "no two rides of one route to compare them on",
        "few_rides_of_campaign": "two rides of each campaign are needed, on stations that both share",
        "no_judged_ride": "no ride that could be held against others",
        "one_ride_no_interval": "one ride: no interval",
        "few_rides": "too few rides to say",
        "few_rides_for_interval": "too few rides for an interval at this confidence",
        "half_never": "half of the rides never had one",
        "few_stations": "too few stations",
        "few_stations_for_length": "too few stations to estimate it",
        "no_station": "no station was reached",
        "no_trace_here": "no trace runs here",
        "one_trace_here": "fewer than two traces here",
        "no_two_together": "no two traces run together",
        "no_other_beside": "no other trace runs beside it",
        "no_offset": "no offset was found",
        "one_position": "fewer than two positions",
        "no_claim": "the watch says nothing of its accuracy",
        "no_figure": "no figure could be formed",
        # a reference line
        "off_reference": "the reference line does not run beside these traces",
        "reference_too_long": _reference_too_long,
        "nssda_one_axis": "NSSDA needs the errors along and across the way, and against a line only those "
        "across can be seen; 95 % of those lie within {across_m:.1f} m if they are normal and unbiased "
        "({worth:.0f} independent values)",
        "nssda_few_points": "NSSDA needs {least} independent check points; these are worth {worth:.0f}",
        "nssda_unlike_axes": "NSSDA needs like errors on both axes (0.6 to 1); here they are {ratio:.2f}",
        # inputs set aside
        "no_other_this_way": "no other trace runs this way in this direction",
        "other_direction": "it runs the way of a route in the other direction, and no other trace does",
        "dissolved": "no other trace runs this way, but for traces that make no route themselves: {because}",
        "shares_too_little": _partly,
        "too_few_points": _too_few_points,
        "too_small": "it stays within {extent_m:.0f} m; a route needs {least_m:.0f} m",
        "too_short": "the way that its traces share is {length_m:.0f} m long; a route needs {least_m:.0f} m",
        "one_recording": "its only companion on this route is the same recording",
        "same_recording": "the same recording as {of}",
        "no_common_line": "it and the traces near it have no common line",
        "too_many_stations": "its route has over {most} stations, {step_m:g} m apart; choose a larger step",
        "too_far_for_grid": "its points lie too far apart for one grid",
        "cut_away": "near the ends of the route only: cut for publishing",
    }
)
"""Sentences by code; a text is filled in with the values of the reason, never with text as a template."""
