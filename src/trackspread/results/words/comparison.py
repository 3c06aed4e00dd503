"""The one sentence of the first screen: who is more consistent, by how much and how sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite

from trackspread import model as m
from trackspread.errors import first_few
from trackspread.results.rounding import counted, plain, rounded_interval, with_interval
from trackspread.results.words.names import listed, shown_name
from trackspread.rides.colours import UNKNOWN

BASES = {"together": "shared ", "apart": "separate ", "both": "shared and separate "}
CAVEAT = "Agreement is not accuracy: it says how closely repeated traces agree, not where the road is."
MOST_NAMED = 3
"""Of more watches the letters name the groups, and the sentence the first of them."""
MOST_LISTED = 4  # names in one sentence
MOST_WORDS = 10
"""Of all names in a list: the first screen has a hundred words (tests/browser/test_report_page.py)."""
RIDE_FIGURES = (
    ("first_fix", "First fix, median", "{:.0f} s sooner"),
    ("stray_share", "Share astray, median", "{:.1%} lower"),
)
NO_SPREAD = "No watch has enough rides to say how closely its traces agree: ride one way again with each"


def verdict_sentence(analysis: m.Analysis) -> str:
    """Return who is more consistent over everything that was ridden, or that the rides cannot tell.

    Where watches were not compared, it is how closely all traces agree.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    str
        One sentence; names are on one line, and short.
    """
    level = level_words(float(analysis.settings["confidence"]))
    if analysis.comparison is None:
        return _by_route(analysis, level)
    return comparison_sentence(analysis.comparison, level)


def level_words(confidence: float) -> str:
    """Return what stands before an interval.

    Parameters
    ----------
    confidence : float
        0 to 1, NaN where it is not known.

    Returns
    -------
    str
        ``""`` where it is not known.

    Examples
    --------
    >>> level_words(0.95)
    '95 % interval '
    """
    return f"{100 * confidence:g} % interval " if isfinite(confidence) else ""


def comparison_sentence(compared: m.Comparison, level: str = "") -> str:
    """Return who is more consistent, by how much and how sure, or that the rides cannot tell.

    Of up to `MOST_NAMED` watches each is named; of more the group of the most consistent one.

    Parameters
    ----------
    compared : Comparison
    level : str
        Stands before an interval; that of the comparison by default.

    Returns
    -------
    str
    """
    level = level or level_words(compared.confidence)
    known = [s for s in compared.receivers if s.receiver not in ("", UNKNOWN)]
    told = [s for s in known if isfinite(s.spread.value)]
    if not told:
        return f"{NO_SPREAD}."
    left = [s for s in known if s not in told]
    return _of_those_told(compared, told, level) + _ride_by_ride(compared.by_ride) + _too_few(left)


def _ride_by_ride(tests: Sequence[m.RideDifference]) -> str:
    """Say whose first fix came sooner and who strayed less, where an exact test tells two watches apart."""
    said = ""
    for figure, title, words in RIDE_FIGURES:
        pairs = [
            f"{shown_name(a)} {words.format(abs(d.difference))} than {shown_name(b)}"
            for d in tests
            if d.figure == figure and d.told_apart and isfinite(d.difference) and d.difference
            for a, b in [(d.a, d.b) if d.difference < 0 else (d.b, d.a)]
        ]
        said += f" {title}: {first_few(pairs, ' pairs')}." if pairs else ""
    return said


def _too_few(left: Sequence[m.ReceiverSummary]) -> str:
    """Name the watches that the sentence before leaves out, and why."""
    if not left:
        return ""
    names = first_few([shown_name(s.receiver) for s in left])
    return f" Too few rides to judge {names}."


def _of_those_told(compared: m.Comparison, told: Sequence[m.ReceiverSummary], level: str) -> str:
    if len(told) == 1:
        return _alone(told[0], level)
    names = {s.receiver for s in told}
    pairs = [d for d in compared.differences if {d.a, d.b} <= names]
    apart = [d for d in pairs if d.told_apart]
    if not apart:
        return _none_apart([s.receiver for s in told], pairs)
    if len(told) > MOST_NAMED:
        return _most_consistent(told, apart, level)
    return _apart(told, apart, pairs, level)


def _alone(summary: m.ReceiverSummary, level: str) -> str:
    figure = _metres(summary.spread, f"1 SD, {level}")
    return (
        f"{shown_name(summary.receiver)}: the traces of {counted(summary.rides, 'ride')} agree to {figure}."
    )


def _none_apart(names: Sequence[str], pairs: Sequence[m.Difference]) -> str:
    rides = max((d.rides for d in pairs), default=0)
    basis = BASES[pairs[0].basis] if pairs and len({d.basis for d in pairs}) == 1 else ""
    after = f"After {rides} {basis}{'ride' if rides == 1 else 'rides'}, " if rides else ""
    many = len(names) > MOST_NAMED
    whom = f"the {len(names)} watches" if many else listed([shown_name(n) for n in names])
    sentence = f"{after}no detectable difference in spread between {whom}."
    return sentence[0].upper() + sentence[1:]


def _apart(
    told: Sequence[m.ReceiverSummary],
    apart: Sequence[m.Difference],
    pairs: Sequence[m.Difference],
    level: str,
) -> str:
    """Name the most consistent watch, those it beats, and the first of these with figures."""
    best, beaten = _best(told, apart)
    nearest = beaten[0]
    whom = listed([shown_name(d.b) for d in beaten])
    against = f" than {shown_name(nearest.b)}" if len(beaten) > 1 else ""
    sentence = (
        f"Over {_rides(nearest)} {shown_name(best)} was more consistent than {whom}: "
        f"SD {_lower(nearest, level)}{against}."
    )
    left = len(pairs) - len(apart)
    if left and len(told) > 2:
        sentence += f" {left} of {len(pairs)} pairs show no detectable difference."
    return sentence


def _most_consistent(told: Sequence[m.ReceiverSummary], apart: Sequence[m.Difference], level: str) -> str:
    """Name the group of the most consistent watch, and how far the first watch behind it is."""
    best, beaten = _best(told, apart)
    nearest = beaten[0]
    letters = {s.receiver: s.group for s in told}
    behind = {d.b for d in beaten}
    group = [n for n in letters if n == best or (n not in behind and letters[best][:1] in letters[n])]
    if len(group) == 1:
        whom = "all others" if len(behind) == len(told) - 1 else listed([shown_name(d.b) for d in beaten])
        figure = f"SD {_lower(nearest, level)} than {shown_name(nearest.b)}"
        return f"Over {_rides(nearest)} {shown_name(best)} was more consistent than {whom}: {figure}."
    names = [shown_name(n) for n in group]
    if len(names) > MOST_LISTED or len(" ".join(names).split()) > MOST_WORDS:
        kept = 2 if len(" ".join(names[:2]).split()) * 2 <= MOST_WORDS else 1
        names = [*names[:kept], f"{len(names) - kept} more"]
    figure = _lower(nearest, level, f" than {shown_name(nearest.b)}'s")
    whose = f"{shown_name(best)}'s" if names[1] == shown_name(group[1]) else "the first one's"
    return (
        f"Over {_rides(nearest)} {listed(names)} were most consistent (no detectable difference); "
        f"{whose} SD was {figure}."
    )


def _best(told: Sequence[m.ReceiverSummary], apart: Sequence[m.Difference]) -> tuple[str, list[m.Difference]]:
    """Return the most consistent of the watches that beat another, and its differences, nearest first."""
    place = {s.receiver: i for i, s in enumerate(told)}
    won = [_turned(d) for d in apart]
    best = min((d.a for d in won), key=lambda name: place[name])
    return best, sorted((d for d in won if d.a == best), key=lambda d: place[d.b])


def _rides(difference: m.Difference) -> str:
    return f"{difference.rides} {BASES[difference.basis]}{'ride' if difference.rides == 1 else 'rides'}"


def _lower(difference: m.Difference, level: str, than: str = "") -> str:
    """Return by how much the SD of ``a`` is lower, with its interval; ``than`` stands before that."""
    d = difference.difference
    return _metres(m.Estimate(value=-d.value, low=-d.high, high=-d.low), level, f"m lower{than}")


def _turned(difference: m.Difference) -> m.Difference:
    """Return a difference with the more consistent of the two as ``a``."""
    if difference.difference.value <= 0:
        return difference
    d, r = difference.difference, difference.ratio
    inverse = m.Estimate(value=1 / r.value, low=1 / r.high, high=1 / r.low) if r.low > 0 else m.Estimate()
    opposite = m.Estimate(value=-d.value, low=-d.high, high=-d.low)
    return replace(difference, a=difference.b, b=difference.a, ratio=inverse, difference=opposite)


def _by_route(analysis: m.Analysis, level: str) -> str:
    """Return how closely all traces agree, of the route with most traces, where watches were not compared."""
    route = analysis.routes[0]
    figure = _metres(route.told_spread, f"1 SD, {level}")
    if not isfinite(route.told_spread.value):
        return f"{NO_SPREAD}."
    return f"{counted(len(route.traces), 'trace')} agree to {figure}."


def _metres(estimate: m.Estimate, level: str, unit: str = "m") -> str:
    value, low, high = rounded_interval(estimate.value, estimate.low, estimate.high)
    if unit != "m" and None not in (value, low, high):
        return f"{plain(value)} {unit} ({level}{plain(low)} to {plain(high)} m)"
    return with_interval(value, low, high, "m", level)
