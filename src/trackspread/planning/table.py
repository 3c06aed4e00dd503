"""How many rides are enough, in rows and words: from typed figures or from a pilot's result.json."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from trackspread.errors import printable
from trackspread.noise.effective import lengths_of
from trackspread.numeric.intervals import sd_factors
from trackspread.results.saved import load_result
from trackspread.statistics.power import (
    MOST_PLANNED_RIDES,
    least_p,
    likely_log_variance,
    log_variance,
    rides_for_fix,
    rides_to_tell_apart,
)
from trackspread.statistics.rides_needed import PlanRow, implied_dof, plan_row, rides_for_spread
from trackspread.system.spreadsheet import guarded

SHOWN = (2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50)  # numbers of rides
HEADS = (
    "Rides",
    "Spread times",
    "Known to",
    "Ratio seen, ridden together",
    "Ratio seen, ridden apart",
)
SHORT_HEADS = ("Route and watches", "Ratio of SDs", "Rides together", "Rides apart", "Rides for the spread")
SHORT_WORDS = (
    "Rides together, apart: how many it takes until such a ratio is detected in {power:.0%} of campaigns, "
    "with both watches on every ride, or each on rides of its own.",
    "Rides for the spread: how many it takes until the spread is known to ±{within:.0%}.",
    "The ratio is the one that the pilot found, which is itself uncertain. The tables in full: --csv FILE.",
)
DEFAULT_RATIO = 1.5  # of two standard deviations
SOONER = 0.9  # share of rides on which the first fix of one watch is sooner


@dataclass(frozen=True, kw_only=True, slots=True)
class RidePlan:
    """One plan: its rows, the answers to what was asked, and what it rests on.

    ``spread_rides``, ``together_rides``, ``apart_rides`` are the answers, ``None`` beyond 5000.
    """

    title: str
    rows: tuple[PlanRow, ...]
    within: float
    ratio: float
    power: float
    spread_rides: int | None
    together_rides: int | None
    apart_rides: int | None
    answers: tuple[str, ...]
    assumptions: tuple[str, ...]

    def short_cells(self) -> tuple[str, ...]:
        """Return the cells of the whole plan under `SHORT_HEADS`, but for its title."""
        counts = (self.together_rides, self.apart_rides, self.spread_rides)
        return (f"{self.ratio:.2f}", *(_count(count) for count in counts))

    def cells(self, row: PlanRow) -> tuple[str, ...]:
        """Return the cells of one row under `HEADS`; ``*`` marks the first that is enough."""
        return (
            f"{row.rides}",
            f"{row.low_factor:.2f} to {row.high_factor:.2f}",
            f"±{row.within:.0%}" + _star(row.rides == self.spread_rides),
            _ratio(row.ratio_together) + _star(row.rides == self.together_rides),
            _ratio(row.ratio_apart) + _star(row.rides == self.apart_rides),
        )


def _star(enough: bool) -> str:
    return " *" if enough else ""


def _ratio(ratio: float) -> str:
    return f"{ratio:.2f}" if ratio < 100.0 else "none"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Pilot:
    """What a pilot says: independent lengths in a ride, ratio of two watches, what they share.

    ``log_var`` is the variance of the logarithm of a ride's mean square, ``receivers`` how many are compared.
    ``lean`` are the powers to which the ends of an interval by chi-square are raised to give its own.
    """

    title: str
    lengths: float
    log_var: float = math.nan
    receivers: int = 2
    lean: tuple[float, float] = (1.0, 1.0)
    ratio: float = math.nan
    common: float = math.nan
    source: str = ""


def ride_plans(
    pilot: Path | None, within: float, ratio: float | None, power: float, confidence: float,
    lengths: float | None, common: float | None,
) -> tuple[RidePlan, ...]:  # fmt: skip
    """Return one plan from typed figures, or one for each route and pair of a pilot.

    What is typed goes before what the pilot says, and that before the defaults: 1 independent value a ride,
    a ratio of 1.5, nothing in common.

    Parameters
    ----------
    pilot : Path or None
        A result.json, or the folder that holds it.
    within : float
        Share to which the spread shall be known, such as 0.2.
    ratio : float or None
        Of two standard deviations that shall be told apart, above 1.
    power : float
        Share of campaigns that tell them apart, 0 to 1.
    confidence : float
        Of the intervals, 0 to 1.
    lengths : float or None
        Independent values in one ride.
    common : float or None
        What both receivers share, in standard deviations of the better one.

    Returns
    -------
    tuple of RidePlan

    Raises
    ------
    UnreadableFile
        The pilot is no result.

    Examples
    --------
    >>> (plan,) = ride_plans(None, 0.2, 1.5, 0.8, 0.95, None, None)
    >>> plan.spread_rides
    49
    """
    known = _pilots(load_result(pilot)) if pilot is not None else []
    return tuple(
        _plan(one, within, ratio, power, confidence, lengths, common)
        for one in known or [_Pilot(title="Rides needed", lengths=math.nan)]
    )


def _pilots(document: Mapping[str, Any]) -> list[_Pilot]:
    level = float(document["settings"].get("confidence", 0.95))
    traces = [trace for route in document["routes"] for trace in route["traces"]]
    receivers = max(len({trace["receiver"] for trace in traces if trace["receiver"]}), 2)
    out = []
    for route in document["routes"]:
        rides = len({trace["ride"] or trace["file"] for trace in route["traces"]})
        dof, lean = _interval(route, level)
        lengths = dof / (rides - 1) if rides > 1 else math.nan
        name = printable(route.get("title") or route["name"], 30)
        pairs = [pair for pair in route["pairs"] if pair["rides"] > 1]
        alone = _Pilot(
            title=name, lengths=lengths, log_var=_log_variance(route), receivers=receivers, lean=lean,
            source=f"{rides} rides of the pilot",
        )  # fmt: skip
        out += [_pair(pair, alone) for pair in pairs] or [alone]
    return out


def _pair(pair: Mapping[str, Any], route: _Pilot) -> _Pilot:
    sds = [pair[name]["value_m"] for name in ("sd_a", "sd_b")]
    ratio = max(sds) / min(sds) if all(sds) else math.nan
    common = (pair["common_sd_m"] or 0.0) / min(sds) if all(sds) else math.nan
    names = f"{printable(pair['a'], 30)} and {printable(pair['b'], 30)}"
    source = f"{pair['rides']} rides together of the pilot"
    title = f"{route.title}: {names}"
    return replace(route, title=title, ratio=ratio, common=common, source=source)


def _log_variance(route: Mapping[str, Any]) -> float:
    """Return the variance of the logarithms of the mean squares of one receiver's rides on a route."""
    step_m, alike_m = route["station_step_m"], route["correlation_length_m"]
    if not alike_m:
        return math.nan
    squares, free = 0.0, 0
    for name in {trace["receiver"] for trace in route["traces"]}:
        own = [_mean_square(route, trace) for trace in route["traces"] if trace["receiver"] == name]
        logs = np.log([square for square in own if square])
        if len(logs) > 1:
            squares, free = squares + float(np.sum((logs - logs.mean()) ** 2)), free + len(logs) - 1
    return likely_log_variance(lengths_of(route["length_m"], alike_m, step_m), squares, free)


def _mean_square(route: Mapping[str, Any], trace: Mapping[str, Any]) -> float:
    """Return the mean square of all errors of a trace: what was kept, and its stretches by their mean."""
    stretches = [s for s in route["stretches"] if s["file"] == trace["file"] and s["cause"] != "line"]
    length_m = np.array([s["to_m"] - s["from_m"] for s in stretches])
    mean_m = np.array([s["mean_m"] for s in stretches])
    astray = length_m / max(route["length_m"] * (trace["coverage"] or 0.0), 1.0)
    kept = (trace["spread_m"] or 0.0) ** 2
    return float(max(1.0 - astray.sum(), 0.0) * kept + astray @ mean_m**2)


def _interval(route: Mapping[str, Any], confidence: float) -> tuple[float, tuple[float, float]]:
    """Return the degrees of freedom of the interval that the report shows for a route, and its lean.

    That is the interval of all errors; it reaches farther up than one by chi-square that is as wide.
    """
    told = [one for one in (route.get("spread_all"), route["spread"]) if one and one["value_m"] is not None]
    if not told or None in (told[0]["low_m"], told[0]["high_m"]):
        return math.nan, (1.0, 1.0)
    value, low, high = (float(told[0][name]) for name in ("value_m", "low_m", "high_m"))
    dof = implied_dof(value, low, high, confidence)
    if math.isnan(dof):
        return dof, (1.0, 1.0)
    factors = sd_factors(dof, confidence)
    return dof, (
        math.log(low / value) / math.log(factors[0]),
        math.log(high / value) / math.log(factors[1]),
    )


def _first(*values: float | None) -> float:
    return next(float(v) for v in values if v is not None and math.isfinite(v))


def _plan(
    pilot: _Pilot, within: float, ratio: float | None, power: float, confidence: float,
    lengths: float | None, common: float | None,
) -> RidePlan:  # fmt: skip
    k, c = _first(lengths, pilot.lengths, 1.0), _first(common, pilot.common, 0.0)
    q = _first(ratio, max(pilot.ratio, 1.01) if math.isfinite(pilot.ratio) else None, DEFAULT_RATIO)
    var = log_variance(k) if lengths is not None else _first(pilot.log_var, log_variance(k))
    together, apart = (
        rides_to_tell_apart(q, power, confidence, var, c, pilot.receivers, shared) for shared in (True, False)
    )
    enough = (rides_for_spread(within, confidence, k), together, apart)
    median = next(n for n in range(2, 200) if least_p(n, True) <= 1.0 - confidence)
    first, seen = (
        [rides_for_fix(pilot.receivers, confidence, shared, sooner, power) for shared in (True, False)]
        for sooner in (1.0, SOONER)
    )
    lean = pilot.lean if lengths is None else (1.0, 1.0)
    shown = sorted({*SHOWN, *(n for n in enough if n is not None and n <= 500)})
    rows = [plan_row(n, k, var, confidence, power, c, pilot.receivers) for n in shown]
    answers = (
        f"Spread known to ±{within:.0%}: {_rides(enough[0])}.",
        f"Two watches told apart at a ratio of {q:.2f} in {power:.0%} of campaigns: {_rides(enough[1])} "
        f"ridden together, or {_rides(enough[2])} with each on different rides.",
        f"First fix: its median has an interval of {confidence:.0%} from {median} rides. Two watches, one "
        f"sooner on {SOONER:.0%} of rides, told apart by it in {power:.0%} of campaigns: {_rides(seen[0])} "
        f"ridden together, or {_rides(seen[1])} with each on different rides; at the earliest after "
        f"{first[0]} or {first[1]} rides, where one is sooner on each.",
    )
    return RidePlan(
        title=pilot.title, rows=tuple(_leaning(row, lean) for row in rows), within=within, ratio=q,
        power=power, spread_rides=enough[0], together_rides=enough[1], apart_rides=enough[2], answers=answers,
        assumptions=_assumptions(pilot, lengths, ratio, k, c, confidence, var),
    )  # fmt: skip


def _leaning(row: PlanRow, lean: tuple[float, float]) -> PlanRow:
    """Return a row whose interval leans as that of the pilot, so that its own rides show its own interval."""
    return replace(row, low_factor=row.low_factor ** lean[0], high_factor=row.high_factor ** lean[1])


def _count(count: int | None) -> str:
    return f"{count}" if count is not None else f"over {MOST_PLANNED_RIDES}"


def _rides(count: int | None) -> str:
    return f"{count} rides" if count is not None else f"more than {MOST_PLANNED_RIDES} rides"


def _assumptions(
    pilot: _Pilot, lengths: float | None, ratio: float | None, k: float, c: float, confidence: float,
    var: float,
) -> tuple[str, ...]:  # fmt: skip
    if lengths is not None:
        origin = "as typed"
    elif math.isfinite(pilot.lengths):
        origin = f"from the interval of the spread over {pilot.source}"
    else:
        origin = "the most cautious: a ride's errors all alike"
    of_pilot = pilot.lean != (1.0, 1.0) and lengths is None
    ends = "of all errors, as the pilot has it" if of_pilot else "chi-square"
    factor = math.exp(0.5 * math.sqrt(var))
    from_pilot = lengths is None and math.isfinite(pilot.log_var)
    unlike = "as the pilot's do" if from_pilot else "by chance, their errors being normal"
    others = ", all others like one of the two" if pilot.receivers > 2 else ""
    words = [
        f"Rests on: {k:.2g} independent {'value' if k == 1 else 'values'} a ride ({origin}); what both share "
        f"is {c:.2g} times the better watch's own standard deviation; {confidence:.0%} intervals; "
        f"rides of one watch whose spreads differ by a factor of {factor:.2g} ({unlike}); "
        f"rides independent of each other; {pilot.receivers} watches that do not change{others}.",
        f"Spread times: factors that take a spread to the ends of its interval ({ends}). Known to: the "
        "spread found lies within this of the truth. Ratio seen: smallest ratio told apart with the power "
        "asked for, by the test of the report and at its risk for all comparisons made. * marks the first "
        "that is enough.",
    ]
    if ratio is None and math.isfinite(pilot.ratio):
        words.append(
            "The ratio is the one that the pilot found, which is itself uncertain: a small pilot that "
            "happens to find a large ratio makes a plan that is too short."
        )
    return tuple(words)


def plan_csv(plans: Sequence[RidePlan]) -> str:
    """Return all rows of all plans as CSV.

    Parameters
    ----------
    plans : sequence of RidePlan
        All of one command.

    Returns
    -------
    str
        A row a number of rides; a cell is empty where there is no figure.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    names = ("rides", "dof", "low_factor", "high_factor", "within", "ratio_together", "ratio_apart")
    writer.writerow(["plan", *names])
    for plan in plans:
        for row in plan.rows:
            values = [getattr(row, name) for name in names]
            cells = [f"{value:.6g}" if math.isfinite(value) else "" for value in values]
            writer.writerow([guarded(plan.title), *cells])
    return buffer.getvalue()
