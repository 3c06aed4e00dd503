"""The settings that the page offers, in plain words; their values and ranges are those of `Options`."""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from trackspread.errors import BadOption, printable
from trackspread.options import Options
from trackspread.web.outcome import Wanted

TICKS = ("publish", "hide_dates", "film")
_WANTED: Mapping[str, tuple[type | types.UnionType, str]] = types.MappingProxyType(
    {
        "float": (int | float, "a number"),
        "int": (int, "a whole number"),
        "bool": (bool, "yes or no"),
        "str": (str, "a word"),
    }
)
_KINDS = {"float": "number", "int": "number", "bool": "tick"}
_OFFERED: Mapping[str, tuple[str, str]] = types.MappingProxyType(
    {
        "steady_m": (
            "Steady up to a spread of, metres",
            "A segment whose traces spread no more is fit to show.",
        ),
        "torn_m": ("Torn above a spread of, metres", "A segment whose traces spread more is not typical."),
        "min_traces": ("Fewest traces", "A segment with fewer traces is called thin: too few to say."),
        "reach_m": (
            "Off-route beyond, metres",
            "A trace farther off than this does not follow the route.",
        ),
        "gap_m": (
            "Gap beyond, metres",
            "Where a trace logs nothing over more than this, it counts as missing.",
        ),
        "settle_band": ("Band of a settled fix", "In standard deviations of the other rides."),
        "settle_hold_s": ("Hold of a settled fix, seconds", "How long a fix must stay within its band."),
        "confidence": (
            "Confidence of all intervals",
            "0.95 means: 95 of 100 such intervals hold the true figure.",
        ),
        "grid": ("Grid", "The local grid is centred on the route and distorts least."),
        "laps": (
            "Split files of repeated laps into rides",
            "For a watch that was left running over several laps.",
        ),
    }
)
_CHOICES = types.MappingProxyType({"grid": (("local", "local"), ("utm", "UTM zone of the place"))})


def offered() -> list[dict[str, Any]]:
    """Return the folded-away settings as the page draws them.

    Returns
    -------
    list of dict
        Name, label, hint, kind, default and choices of each.
    """
    defaults = Options().as_dict()
    kinds = {field.name: _KINDS.get(str(field.type), "choice") for field in fields(Options)}
    return [
        {
            "name": name,
            "label": label,
            "hint": hint,
            "kind": kinds[name],
            "value": defaults[name],
            "choices": _CHOICES.get(name, ()),
        }
        for name, (label, hint) in _OFFERED.items()
    ]


def wanted(values: Mapping[str, Any]) -> Wanted:
    """Return what the page asked for: its ticks and its thresholds.

    Parameters
    ----------
    values : mapping
        What the page sent, by name; anything it does not offer is refused.

    Returns
    -------
    Wanted

    Raises
    ------
    BadOption
        A name is not offered, or a value has the wrong kind or is out of range.
    """
    ticks = {name: _fitting(name, "bool", values.get(name, False)) is True for name in TICKS}
    rest = {name: value for name, value in values.items() if name not in TICKS}
    return Wanted(options=_chosen(rest), **ticks)


def _chosen(values: Mapping[str, Any]) -> Options:
    """Return the options that the page sent; anything it does not offer is refused.

    Raises
    ------
    BadOption
        A name is not offered, or a value has the wrong kind or is out of range.
    """
    kinds = {field.name: str(field.type) for field in fields(Options)}
    taken: dict[str, Any] = {}
    for name, value in values.items():
        if name != "segment_m" and name not in _OFFERED:
            raise BadOption(printable(name), "no such setting")
        taken[name] = _fitting(name, kinds[name], value)
    return Options(**taken)


def _fitting(name: str, kind: str, value: object) -> object:
    if kind == "int" and isinstance(value, float) and value.is_integer():
        value = int(value)
    wanted, words = _WANTED[kind]
    if isinstance(value, wanted) and isinstance(value, bool) == (kind == "bool"):
        return value
    raise BadOption(name, f"{words} is needed", "" if value is None else repr(printable(str(value))))
