"""The change of a receiver between two campaigns on one route, with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from trackspread.compare.ranking import poses
from trackspread.geometry.sphere import places_m
from trackspread.model import Bools, Change, Estimate, Floats, Ints, Reason, RouteResult
from trackspread.noise.effective import centred
from trackspread.noise.posterior import posterior
from trackspread.pairs.contrasts import contrast, mean_squares, ride_level
from trackspread.pairs.log_ratio import apart
from trackspread.pipeline.ridden import LEAST_STATIONS, Ridden, name_of_ride, ridden
from trackspread.statistics.deviation import deviation
from trackspread.statistics.letters import holm

FEW_RIDES = Reason("few_rides_of_campaign")


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Campaign:
    """One analysis of a route, ``shared`` the stations (S,) that all campaigns compared have."""

    label: str
    route: RouteResult
    shared: Bools


def changes(campaigns: Sequence[Campaign], confidence: float) -> tuple[Change, ...]:
    """Return the change of every receiver from each campaign to the next one that it rode in.

    Parameters
    ----------
    campaigns : sequence of Campaign
        In order of time, on one route.
    confidence : float
        Of the intervals, and 1 less the risk of all verdicts together.

    Returns
    -------
    tuple of Change
        By campaign, then by name.

    Notes
    -----
    The traces of both campaigns are put on the line of the first, and every ride is held against the
    consensus of all others; then rides count as in `apart`. p-values are held to all changes told (`holm`).
    """
    out = []
    for place, after in enumerate(campaigns):
        for name in sorted({trace.receiver for trace in after.route.traces} - {""}):
            earlier = [c for c in campaigns[:place] if any(t.receiver == name for t in c.route.traces)]
            if earlier:
                out.append(_change(earlier[-1], after, name, confidence))
    risk = 1.0 - confidence
    adjusted = holm(np.array([one.p_adjusted for one in out]), risk=risk).tolist()
    return tuple(
        replace(one, p_adjusted=p, told_apart=bool(p <= risk)) for one, p in zip(out, adjusted, strict=True)
    )


def _change(before: Campaign, after: Campaign, receiver: str, confidence: float) -> Change:
    tables, away = _on_one_line(before, after)
    old, new = (_squares(t, values, receiver) for t, values in zip(tables, away, strict=True))
    share = apart([(new, old)], sum(table.others() + 1 for table in tables) - 1.0)
    none = Estimate(reason=FEW_RIDES)
    found = None
    if share is not None:
        found = contrast(share, ride_level([mean_squares(new, old)], tables[0].lengths()), confidence)
    return Change(
        receiver=receiver, before=before.label, after=after.label, rides=(len(old), len(new)),
        firmware=(_firmware(before.route, receiver), _firmware(after.route, receiver)),
        ratio=found.ratio if found else none, difference=found.difference if found else none,
        told_apart=False, p_adjusted=found.p if found else float("nan"),
    )  # fmt: skip


def _firmware(route: RouteResult, receiver: str) -> str:
    """Return the versions that a receiver's traces name, in order."""
    named = [trace.firmware for trace in route.traces if trace.receiver == receiver and trace.firmware]
    return ", ".join(dict.fromkeys(named))


def _squares(table: Ridden, away_m: Floats, receiver: str) -> Floats:
    """Return the mean square deviation of each ride of a receiver that has enough stations."""
    values = table.stack(away_m, receiver, table.rides(receiver))
    count = np.isfinite(values).sum(axis=1)
    some = count >= LEAST_STATIONS
    return np.asarray(np.nansum(values[some] ** 2, axis=1) / count[some])


def _on_one_line(before: Campaign, after: Campaign) -> tuple[tuple[Ridden, Ridden], tuple[Floats, Floats]]:
    """Return the tables of two campaigns, and deviations (T, K) of each from the rides of both.

    The K stations are those of the first line that both share.
    """
    (first,), (second,) = (ridden([campaign.route]) for campaign in (before, after))
    kept = np.flatnonzero(before.shared)
    at, aside_m = beside(before.route, after.route, kept)
    joint = np.concatenate([first.offset_m[:, kept], second.offset_m[:, at] + aside_m])
    names = [(k, name_of_ride(t)) for k, c in enumerate((before, after)) for t in c.route.traces]
    number = {name: place for place, name in enumerate(dict.fromkeys(names))}
    ride = np.array([number[name] for name in names])
    step = before.route.station_step_m
    straight = np.zeros(len(kept))
    own = 1.0 - 1.0 / max(len(number), 2)
    alike = posterior(centred(joint)[0], straight, step, own).correlation(straight, step)
    away = deviation(joint, joint, ride, step, alike).deviation_m
    split = len(first.offset_m)
    return (first, second), (away[:split], away[split:])


def beside(one: RouteResult, other: RouteResult, kept: Ints) -> tuple[Ints, Floats]:
    """Return the station of another line nearest to each kept one, and how far to its right that line lies.

    Parameters
    ----------
    one, other : RouteResult
        Two lines of one way.
    kept : ndarray of int, shape (K,)
        Places in the stations of ``one``.

    Returns
    -------
    at : ndarray of int, shape (K,)
        Places in the stations of ``other``.
    right_m : ndarray, shape (K,)
        Metres.
    """
    _, near = cKDTree(poses(other.lon_deg, other.lat_deg)).query(poses(one.lon_deg, one.lat_deg)[kept])
    here, there = places_m(one.lon_deg, one.lat_deg), places_m(other.lon_deg, other.lat_deg)
    way = np.gradient(here, axis=0)[kept]
    right = np.cross(way, here[kept])
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    at = np.asarray(near, dtype=np.int64)
    return at, np.asarray(((there[at] - here[kept]) * right).sum(axis=1))
