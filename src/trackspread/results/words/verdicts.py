"""The verdicts of segments: their signs, the rules behind them, and what follows for a film."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from trackspread.model import Verdict
from trackspread.options import Options, Settings

_USUAL = Options()
VERDICT_GLYPHS: Mapping[Verdict, str] = MappingProxyType(
    {"steady": "●", "wavering": "◐", "torn": "✕", "thin": "○"}
)
VERDICT_ADVICE: Mapping[Verdict, str] = MappingProxyType(
    {
        "steady": "fit to show as it is",
        "wavering": "fit to show with a word about its spread",
        "torn": "not typical: show it only to talk about disagreement",
        "thin": "too few traces to say",
    }
)


def verdict_rule(verdict: Verdict, settings: Settings) -> str:
    """Return the rule behind a verdict with its thresholds, as `statistics.verdicts` has it.

    Parameters
    ----------
    verdict : str
        ``steady``, ``wavering``, ``torn`` or ``thin``.
    settings : mapping
        Those of the analysis; spreads in metres, shares of one.

    Returns
    -------
    str
    """
    steady, torn, least, some, many = _thresholds(settings)
    return {
        "steady": f"spread up to {steady:g} m, and no more than {some:g} % of the rides astray",
        "wavering": f"spread {steady:g} to {torn:g} m, or more than {some:g} % of the rides astray",
        "torn": f"spread above {torn:g} m, or {many:g} % or more of the rides more than {torn:g} m astray",
        "thin": f"fewer than {least:g} traces, or no spread known",
    }[verdict]


def verdict_rule_short(verdict: Verdict, settings: Settings) -> str:
    """Return the rule in a few words, without what it has in common with `verdict_rule`.

    Parameters
    ----------
    verdict : str
        ``steady``, ``wavering``, ``torn`` or ``thin``.
    settings : mapping
        Those of the analysis; spreads in metres, shares of one.

    Returns
    -------
    str
    """
    steady, torn, least, some, many = _thresholds(settings)
    return {
        "steady": f"spread up to {steady:g} m",
        "wavering": f"above {steady:g} m, or over {some:g} % astray",
        "torn": f"above {torn:g} m, or {many:g} % astray",
        "thin": f"fewer than {least:g} traces",
    }[verdict]


def _thresholds(settings: Settings) -> tuple[float, ...]:
    """Return both spreads in metres, the fewest traces, and both shares in per cent."""
    metres = (float(settings[name]) for name in ("steady_m", "torn_m", "min_traces"))
    shares = (float(settings.get(name, getattr(_USUAL, name))) for name in ("steady_share", "torn_share"))
    return (*metres, *(100 * share for share in shares))
