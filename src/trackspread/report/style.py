"""The design sheet as constants: colours, type and space, shared by all that is shown.

Every colour is a pair of hex values, for light and for dark ground. The sheet itself, with the reasons,
is docs/design-sheet.md; tests/report/test_style.py holds contrast and the evenness of the spread scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from trackspread.options import Settings
from trackspread.rides.colours import COLOURS as WATCH_COLOURS

COLOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "paper": ("#fbfaf7", "#14181d"),
        "panel": ("#ffffff", "#1b2127"),
        "sunken": ("#f1efe9", "#0f1316"),
        "rule": ("#d8d4ca", "#363d45"),
        "edge": ("#8a8579", "#757d86"),
        "ink": ("#1c2430", "#e9e6df"),
        "muted": ("#5b626c", "#a7aeb6"),
        "accent": ("#0b5f6b", "#74c7d2"),
        "wash": ("#e3eeee", "#1d3338"),
        "warn": ("#8a3b00", "#f2b27c"),
        "warn-wash": ("#faeee2", "#33261a"),
        "steady": ("#0f7d78", "#4fc1b8"),
        "wavering": ("#4a5fc1", "#93a4ff"),
        "torn": ("#a1216e", "#ff8cc6"),
        "thin": ("#6d7278", "#9aa1a9"),
    }
)

SPREAD_SCALE: tuple[tuple[str, str], ...] = (
    ("#7cd7cc", "#0d5b55"),
    ("#3dbbd2", "#00748a"),
    ("#3497d3", "#3d83bf"),
    ("#526fc3", "#848ddd"),
    ("#63489f", "#c29ae2"),
    ("#63256c", "#f0b0d8"),
    ("#550436", "#fbd4da"),
)
"""Small spread to large: even steps of lightness in OKLab (Ottosson 2020), hue from sea green to plum."""

RECEIVER_COLOURS: tuple[tuple[str, str], ...] = tuple(WATCH_COLOURS.values())
"""Told apart in OKLab by usual sight and by both common kinds of colour blindness, and from the verdicts."""
RECEIVER_DASHES: tuple[str, ...] = ("", "7 4", "2 4", "10 3 2 3")
"""A watch has a colour and a dash: it is never told by colour alone. Which ones: `rides.colours`."""

SERIF = '"Iowan Old Style", "Palatino Linotype", Palatino, "Book Antiqua", "URW Palladio L", Georgia, serif'
SANS = 'system-ui, -apple-system, "Segoe UI", "Noto Sans", "Liberation Sans", Arial, sans-serif'
# Sizes of type and of space, in the size of the reader's own letters.
TYPE_REM: Mapping[str, float] = MappingProxyType(
    {
        "small": 0.8125,
        "table": 0.9375,
        "body": 1.0,
        "lead": 1.25,
        "head": 1.625,
        "title": 2.25,
        "figure": 1.75,
    }
)
SPACE_REM: Mapping[str, float] = MappingProxyType(
    {"1": 0.25, "2": 0.5, "3": 0.75, "4": 1.0, "5": 1.5, "6": 2.5, "7": 4.0}
)


def spread_edges_m(settings: Settings) -> tuple[float, ...]:
    """Return the lower edges, in metres, of the classes of the spread scale.

    The thresholds of the verdicts are edges: by spread alone two classes are steady, two wavering, three
    torn. Equal thresholds leave no class between them.

    Parameters
    ----------
    settings : mapping
        Those of an analysis: ``steady_m`` and ``torn_m``.

    Returns
    -------
    tuple of float
        One a colour of `SPREAD_SCALE`, growing, the first 0.

    Examples
    --------
    >>> spread_edges_m({"steady_m": 3.0, "torn_m": 6.0})
    (0.0, 1.5, 3.0, 4.5, 6.0, 9.0, 15.0)
    """
    steady, torn = float(settings["steady_m"]), float(settings["torn_m"])
    return (0.0, steady / 2, steady, (steady + torn) / 2, torn, 1.5 * torn, 2.5 * torn)


def spread_class(spread_m: float, edges_m: Sequence[float]) -> int:
    """Return the class of a spread: the last one whose lower edge lies below it.

    Parameters
    ----------
    spread_m : float
        Finite.
    edges_m : sequence of float
        Those of `spread_edges_m`.

    Returns
    -------
    int
    """
    return max(0, sum(spread_m > edge for edge in edges_m) - 1)


def receiver_look(index: int) -> tuple[tuple[str, str], str]:
    """Return colours and dash of a watch.

    Parameters
    ----------
    index : int
        Its slot, as `rides.colours.watch_slots` gives it.

    Returns
    -------
    colours : (str, str)
        On light and on dark ground.
    dash : str
        Dash and gap by turns; ``""`` is a full line.
    """
    colour, dash = slot_look(index)
    return RECEIVER_COLOURS[colour], RECEIVER_DASHES[dash]


def slot_look(slot: int) -> tuple[int, int]:
    """Return the numbers of colour and dash of a slot; each round of the colours begins at another dash.

    Parameters
    ----------
    slot : int

    Returns
    -------
    tuple of int
        Indices into `RECEIVER_COLOURS` and `RECEIVER_DASHES`.

    Examples
    --------
    >>> slot_look(0), slot_look(8)
    ((0, 0), (0, 1))
    """
    colours, dashes = len(RECEIVER_COLOURS), len(RECEIVER_DASHES)
    return slot % colours, (slot + slot // colours) % dashes


def css_variables() -> str:
    """Return all constants as CSS custom properties; dark where the screen asks for it, light on paper.

    Returns
    -------
    str
    """
    pairs = {**COLOURS}
    pairs |= {f"spread-{i}": pair for i, pair in enumerate(SPREAD_SCALE)}
    pairs |= {f"receiver-{i}": pair for i, pair in enumerate(RECEIVER_COLOURS)}
    fixed = {"serif": SERIF, "sans": SANS}
    fixed |= {f"type-{name}": f"{size:g}rem" for name, size in TYPE_REM.items()}
    fixed |= {f"space-{name}": f"{size:g}rem" for name, size in SPACE_REM.items()}
    light = ";".join(f"--{name}:{value}" for name, value in (*fixed.items(), *_side(pairs, 0)))
    dark = ";".join(f"--{name}:{value}" for name, value in _side(pairs, 1))
    return (
        f":root{{color-scheme:light dark;{light}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        "@media print{:root{color-scheme:light}}\n"
    )


def _side(pairs: Mapping[str, tuple[str, str]], side: int) -> list[tuple[str, str]]:
    return [(name, pair[side]) for name, pair in pairs.items()]
