"""Receivers of several finished analyses, route by route, as rows fit to show."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np

from trackspread.compare.ranking import ordered, ranks, shared_stations, sooner, steadier
from trackspread.compare.trend import Campaign, changes
from trackspread.compare.verdicts import Verdicts, of_pairs, of_report
from trackspread.errors import UnreadableFile, printable
from trackspread.model import Bools, Change, Estimate, MedianEstimate, Reason, RouteResult
from trackspread.numeric.intervals import median_interval
from trackspread.pipeline.ridden import ridden
from trackspread.pipeline.tracks import ride_numbers
from trackspread.results.arrays import load_analysis
from trackspread.results.saved import load_result
from trackspread.results.schema.reasons import Why
from trackspread.results.words.findings import is_judged
from trackspread.statistics.spread import of_route, variance

SAME_SHARE = 0.3  # share of both ways, from which two routes are compared
WHOLE_SHARE = 0.98  # share from which the whole route is meant
LEAST_SHARED = 20
"""Stations; with fewer in common nothing is said of a change."""
_OF_VERDICTS = ("steady_m", "torn_m", "steady_share", "torn_share")
FIGURES = ("spread", "first fix", "settled fix", "stretch share")


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """One receiver of one analysis on one route; ``ranks`` are by figure, ``None`` without one."""

    receiver: str
    analysis: str
    route: str
    rides: int
    spread: Estimate
    first_fix: MedianEstimate
    settled_fix: MedianEstimate
    stretch_share: MedianEstimate
    restricted: bool
    days: tuple[str, str] = ("", "")
    colour: str = ""
    ranks: Mapping[str, int | None] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """The receivers on one route, best first, and what to beware of when comparing them."""

    title: str
    rows: tuple[Standing, ...]
    cautions: tuple[str, ...]
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Ridden:
    """A route of one analysis: its record in result.json, and its arrays where they are at hand."""

    label: str
    record: Mapping[str, Any]
    settings: Mapping[str, Any]
    days: tuple[str, str]
    arrays: RouteResult | None
    verdicts: Verdicts | None = None

    @property
    def line(self) -> np.ndarray[Any, Any]:
        return np.array(self.record["centreline"]["coordinates"], dtype=float)[:, :2]


def standings(paths: Sequence[Path], by: str = "spread") -> tuple[Group, ...]:
    """Set the receivers of several results side by side, one group for each route that they rode.

    Parameters
    ----------
    paths : sequence of path
        result.json files, or the folders that hold them. With ``arrays.npz`` beside it, figures are taken
        over the stations only that all results of a group share.
    by : str
        The figure that orders the rows, one of `FIGURES`.

    Returns
    -------
    tuple of Group
        In the order in which their routes come first.

    Raises
    ------
    UnreadableFile
        One of them is no result.
    """
    labels = _labels(paths)
    every = [route for path, label in zip(paths, labels, strict=True) for route in _routes(path, label)]
    groups: list[list[_Ridden]] = []
    for route in every:
        home = next((group for group in groups if _same(group[0], route)), None)
        if home is None:
            groups.append([route])
        else:
            home.append(route)
    return tuple(_group(members, by) for members in groups)


def _labels(paths: Sequence[Path]) -> list[str]:
    """Return a short name for each result: its folder, numbered where two are called alike."""
    names = []
    for path in paths:
        folder = path if path.is_dir() else path.parent
        names.append(printable(folder.resolve().name or str(path), 40))
    return [f"{name} ({i + 1})" if names.count(name) > 1 else name for i, name in enumerate(names)]


def _routes(path: Path, label: str) -> list[_Ridden]:
    document = load_result(path)
    verdicts = of_report(document)
    folder = path if path.is_dir() else path.parent
    try:
        kept: Sequence[RouteResult | None] = load_analysis(folder).routes
    except UnreadableFile:
        kept = [None] * len(document["routes"])
    out = []
    for record, arrays in zip(document["routes"], kept, strict=True):
        files = {trace["file"] for trace in record["traces"]}
        begun = [i for i in document["inputs"] if i["file"] in files and i.get("start_time")]
        starts = sorted(str(one["start_time"])[:10] for one in begun)
        days = (starts[0], starts[-1]) if starts else ("", "")
        settings = document["settings"]
        one = _Ridden(
            label=label, record=record, settings=settings, days=days, arrays=arrays, verdicts=verdicts
        )
        out.append(one)
    return out


def _shared(a: _Ridden, b: _Ridden) -> Bools:
    return shared_stations(a.line[:, 0], a.line[:, 1], b.line[:, 0], b.line[:, 1])


def _same(a: _Ridden, b: _Ridden) -> bool:
    return bool(min(_shared(a, b).mean(), _shared(b, a).mean()) >= SAME_SHARE)


def _group(members: list[_Ridden], by: str) -> Group:
    masks = [np.all([_shared(one, other) for other in members], axis=0) for one in members]
    rows = [row for one, mask in zip(members, masks, strict=True) for row in _rows(one, mask)]
    confidence = min(float(one.settings.get("confidence", 0.95)) for one in members)
    changed = _changes(members, masks, confidence)
    rows = _ranked(rows, members, changed, confidence)
    rows.sort(key=lambda row: (row.ranks[by] is None, row.ranks[by] or 0, _value(row, by), row.receiver))
    named = [(one.record.get("title") or one.record["name"], one.label) for one in members]
    title = ", ".join(dict.fromkeys(f"{name} of {label}" for name, label in named))
    if len({name for name, _ in named}) == 1:
        title = f"{named[0][0]}: {', '.join(dict.fromkeys(label for _, label in named))}"
    return Group(
        title=printable(title, 200),
        rows=tuple(rows),
        cautions=tuple(_cautions(members, masks)),
        changes=changed,
    )


def _changes(members: list[_Ridden], masks: list[Bools], confidence: float) -> tuple[Change, ...]:
    """Return the changes of receivers between analyses, in the order of their days."""
    order = sorted(range(len(members)), key=lambda k: members[k].days)
    campaigns = [
        Campaign(label=members[k].label, route=route, shared=masks[k])
        for k in order
        if (route := members[k].arrays) is not None and masks[k].sum() >= LEAST_SHARED
    ]
    return changes(campaigns, confidence)


def _rows(one: _Ridden, mask: Bools) -> list[Standing]:
    whole = bool(mask.mean() >= WHOLE_SHARE)
    out = []
    colours = {trace["receiver"]: trace.get("colour") or "" for trace in one.record["traces"]}
    for record in one.record["receivers"]:
        restricted = not whole and one.arrays is not None
        spread = _restricted(one, record["receiver"], mask) if restricted else _told_first(record)
        out.append(
            Standing(
                receiver=printable(record["receiver"], 60) or "not known", analysis=one.label,
                route=printable(one.record["name"], 30), rides=record["rides"], spread=spread,
                first_fix=_median(record["first_fix_s"]), settled_fix=_median(record["settled_fix_s"]),
                stretch_share=_shares(one, record["receiver"]), restricted=restricted, days=one.days,
                colour=colours.get(record["receiver"], ""),
            )
        )  # fmt: skip
    return out


def _restricted(one: _Ridden, receiver: str, mask: Bools) -> Estimate:
    """Return the spread of all errors of a receiver over the shared stations, as the analysis would."""
    route = one.arrays
    assert route is not None
    mine = [trace.number for trace in route.traces if trace.receiver == receiver]
    ride = ride_numbers(route.traces[i].ride for i in mine)
    if len(np.unique(ride)) < 2:
        return Estimate(reason=Reason("one_ride"))
    east = np.cos(np.radians(route.lat_deg)) * np.gradient(np.unwrap(route.lon_deg, period=360.0))
    heading = np.arctan2(np.gradient(route.lat_deg), east)
    found = variance(
        ridden([route])[0].offset_m[mine], np.full((len(mine), len(mask)), route.station_step_m),
        np.broadcast_to(~mask, (len(mine), len(mask))), ride, np.zeros(len(mine), dtype=np.int64), heading,
        route.station_step_m,
    )  # fmt: skip
    return of_route(found, float(one.settings.get("confidence", 0.95)), bursts=True)


def _shares(one: _Ridden, receiver: str) -> MedianEstimate:
    """Return the share of its way that each ride of a receiver spent in stretches: median and interval."""
    if not is_judged(one.record):
        return MedianEstimate(reason=Reason("few_rides"))
    length = max(float(one.record["length_m"]), 1.0)
    shares = []
    for trace in one.record["traces"]:
        if trace["receiver"] == receiver and trace["coverage"]:
            own = [s for s in one.record["stretches"] if s["file"] == trace["file"] and s["cause"] != "line"]
            away = sum(s["to_m"] - s["from_m"] for s in own)
            shares.append(min(away / (length * trace["coverage"]), 1.0))
    if not shares:
        return MedianEstimate(reason=Reason("no_station"))
    median, low, high, level = median_interval(np.array(shares), float(one.settings.get("confidence", 0.95)))
    return MedianEstimate(median=median, low=low, high=high, n=len(shares), confidence=level)


def _told_first(record: Mapping[str, Any]) -> Estimate:
    """Return the spread that the report tells first: of all errors, or of what is kept in older results."""
    every = record.get("spread_all")
    return _estimate(every if every and every["value_m"] is not None else record["spread"])


def _estimate(record: Mapping[str, Any]) -> Estimate:
    value, low, high = (_known(record[name]) for name in ("value_m", "low_m", "high_m"))
    return Estimate(value=value, low=low, high=high, reason=Why().read(record.get("reason", "")))


def _median(record: Mapping[str, Any]) -> MedianEstimate:
    median, low, high = (_known(record[name]) for name in ("median", "low", "high"))
    return MedianEstimate(
        median=median, low=low, high=high, n=record["n"], reason=Why().read(record.get("reason", ""))
    )


def _known(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def _ranked(
    rows: list[Standing], members: list[_Ridden], changed: Sequence[Change], confidence: float
) -> list[Standing]:
    """Return the rows with their ranks, by figure."""
    every = {}
    for name in FIGURES:
        known = [math.isfinite(_value(row, name)) for row in rows]
        pairs = list(permutations(np.flatnonzero(known).tolist(), 2))
        said, open_pairs = _said(rows, pairs, name, members)
        told, open_pairs = _changed(rows, open_pairs, changed) if name == "spread" else ([], open_pairs)
        tested = [(i, j) for i, j in open_pairs if _is_better(rows[i], rows[j], name, confidence)]
        every[name] = ranks(ordered(len(rows), said, told, tested), known)
    return [replace(row, ranks={name: every[name][i] for name in FIGURES}) for i, row in enumerate(rows)]


Pairs = list[tuple[int, int]]


def _said(rows: list[Standing], pairs: Pairs, name: str, members: list[_Ridden]) -> tuple[Pairs, Pairs]:
    """Return who is better by the word of an own report, and the pairs on which no report speaks."""
    of_report = {one.label: one.verdicts for one in members}
    on_route = {(one.label, printable(one.record["name"], 30)): of_pairs(one.record) for one in members}
    said, left = [], []
    for i, j in pairs:
        a, b = rows[i], rows[j]
        here = a.analysis == b.analysis and a.receiver != b.receiver and name != "settled fix"
        decided = of_report[a.analysis] if here else None
        beside = here and a.route == b.route and not a.restricted
        known = on_route[a.analysis, a.route] if beside and decided is None else decided or frozenset()
        if (name, a.receiver, b.receiver) in known:
            said.append((i, j))
        elif decided is None and (name, b.receiver, a.receiver) not in known:
            left.append((i, j))
    return said, left


def _changed(rows: list[Standing], pairs: Pairs, changed: Sequence[Change]) -> tuple[Pairs, Pairs]:
    """Return who is better by what is known of one receiver in two analyses, and the other pairs."""
    worse_by: dict[tuple[str, str, str, str], float] = {}
    for change in changed:
        name, gap = printable(change.receiver, 60), change.difference.value if change.told_apart else 0.0
        worse_by[name, change.before, name, change.after] = gap
        worse_by[name, change.after, name, change.before] = -gap
    keys = {
        (i, j): (rows[i].receiver, rows[i].analysis, rows[j].receiver, rows[j].analysis) for i, j in pairs
    }
    told = [pair for pair in pairs if worse_by.get(keys[pair], 0.0) > 0.0]
    return told, [pair for pair in pairs if keys[pair] not in worse_by]


def _is_better(a: Standing, b: Standing, name: str, confidence: float) -> bool:
    if name == "spread":
        return steadier(a.spread, b.spread, confidence)
    return sooner(_figure(a, name), _figure(b, name))


def _figure(row: Standing, name: str) -> Any:
    return getattr(row, name.replace(" ", "_"))


def _value(row: Standing, by: str) -> float:
    figure = _figure(row, by)
    value = figure.value if by == "spread" else figure.median
    return float(value) if math.isfinite(value) else math.inf


def _cautions(members: list[_Ridden], masks: list[Bools]) -> list[str]:
    """Return what makes a comparison within a group less than fair."""
    words = []
    if len(members) > 1:
        shares = [float(mask.mean()) for mask in masks]
        if min(shares) < WHOLE_SHARE:
            kept = "spreads are over the shared part only"
            if any(one.arrays is None for one in members):
                kept = "where arrays.npz is missing, spreads are over the whole route"
            words.append(
                f"The routes differ: {min(shares):.0%} to {max(shares):.0%} of each is shared; {kept}; "
                "fixes and stretch shares are over the whole."
            )
        periods = dict.fromkeys("–".join(dict.fromkeys(one.days)) for one in members if one.days[0])
        if len(periods) > 1:
            words.append(f"Ridden at different times ({', '.join(periods)}): another sky, another season.")
        settings = [{k: v for k, v in one.settings.items() if k not in _OF_VERDICTS} for one in members]
        if any(other != settings[0] for other in settings[1:]):
            changed = sorted({k for other in settings for k in other if other[k] != settings[0].get(k)})
            words.append(f"Analysed with different settings: {printable(', '.join(changed), 200)}.")
    records = (record for one in members for record in one.record["receivers"])
    few = [f"{record['receiver']} ({record['rides']})" for record in records if record["rides"] < 4]
    if few:
        words.append(f"Few rides: {printable(', '.join(few), 200)}.")
    return words
