"""Odd sets of rides drawn at random: geometry, clocks, numbers, names, receivers and thresholds.

Hypothesis draws what kind of thing each trace is, a seeded generator of numpy the numbers, so that a set of
a thousand points is still drawn by a handful of choices.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from records import PAYLOADS

Floats = NDArray[np.float64]
METRES_PER_DEGREE = 111_320.0
START_S = 1_930_287_600.0  # 2031-03-03T07:00:00Z

PLACES = (
    (-87.3, 75.15), (180.0, -12.0), (-180.0, 70.0), (0.0, 0.0), (30.0, 90.0), (-60.0, -89.9999),
    (179.9999, 89.5), (10.0, 1e-7), (3.0, -54.4), (0.0, 84.5),
)  # fmt: skip
SHAPES = (
    "line", "bend", "zigzag", "circle", "laps", "out and back", "eight", "spiral", "walk", "still", "tiny",
    "two points", "far", "around the earth", "comb", "staircase",
)  # fmt: skip
TWISTS = (
    "none", "none", "none", "reversed", "first half", "last half", "middle missing", "copy", "copy later",
    "dwell", "leaps", "teleport", "every point twice", "few points", "one point", "mirrored", "shifted",
    "shuffled", "breaks", "other way", "rounded",
)  # fmt: skip
CLOCKS = (
    "seconds", "seconds", "seconds", "none", "naive", "backwards", "shuffled", "stands still", "1970", "2106",
    "fractions", "now and then", "day's pause", "half known", "same start", "leaps", "year 9999", "slow", "fast",
)  # fmt: skip
TOKENS = (
    "nan", "NaN", "-nan", "inf", "-1e999", "1e400", "", " ", "91", "-90.0000001", "180.5", "-180", "360", "0",
    "-0.0", "1e-320", "٨٧", "8_7", "75,15", "0x10", "+75.2", "1e1", "seventy", "75.15.2", "99999999999999999999",
)  # fmt: skip
NAMES = (
    "ride", "a b", "it's", 'say "x"', "<b>", "{{x}}", "{% x %}", "${x}", "a\nb", "gpx\u202e", "=1+1", "-x", ";", "#2",
    "ä", "日", "🚲", "%00", "..", "a" * 120, "'; --", "&amp;", "\\", "*", "[x]", "NUL", "\udcff", "\u2066", "rides",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class OddRides:
    """What is put into a folder, and how it is analysed."""

    files: dict[str, bytes]
    options: dict[str, Any] = field(default_factory=dict)
    reference: bytes = b""
    publish: bool = False
    story: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return "\n  ".join([f"options {self.options}, publish {self.publish}", *self.story])

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        printer.text(repr(self))

    def write(self, folder: Path) -> None:
        """Write all files below ``folder``."""
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


# --- geometry: metres east and north of a place --------------------------------------------------------


def shape(kind: str, points: int, length_m: float, rng: np.random.Generator) -> Floats:
    """Return a line of that kind, shape (points, 2)."""
    t = np.linspace(0.0, 1.0, max(points, 1))
    turn = 2 * np.pi * t
    x, y = {
        "line": lambda: (t, 0 * t),
        "bend": lambda: (t, t**2),
        "zigzag": lambda: (t, 0.02 * np.abs((t * 40) % 2 - 1)),
        "circle": lambda: (np.cos(turn) / 6, np.sin(turn) / 6),
        "laps": lambda: (np.cos(4 * turn) / 25, np.sin(4 * turn) / 25),
        "out and back": lambda: (0.5 - np.abs(t - 0.5), 0 * t),
        "eight": lambda: (np.sin(turn) / 4, np.sin(2 * turn) / 4),
        "spiral": lambda: (t * np.cos(5 * turn) / 10, t * np.sin(5 * turn) / 10),
        "walk": lambda: tuple(np.cumsum(rng.normal(size=(2, len(t))), axis=1) / len(t)),
        "still": lambda: (0 * t, 0 * t),
        "tiny": lambda: (t * 5 / length_m, 0 * t),
        "two points": lambda: (np.round(t), 0 * t),
        "far": lambda: (t * 300, t * 100),
        "around the earth": lambda: (t * 4.0e7 / length_m, 0 * t),
        "comb": lambda: (np.floor(t * 8) / 8, 0.1 * np.abs((t * 8) % 1 - 0.5)),
        "staircase": lambda: (np.floor(t * 10) / 20, np.floor(t * 10 + 0.5) / 20),
    }[kind]()
    return np.column_stack([x, y]) * length_m


def twisted(kind: str, xy: Floats, last: Floats, rng: np.random.Generator) -> Floats:
    """Return what one ride made of the line."""
    n = len(xy)
    if kind in ("copy", "copy later"):
        return last.copy()
    if kind == "dwell":
        at = int(rng.integers(n))
        return np.insert(xy, [at] * 40, xy[at] + rng.normal(0, 2.0, (40, 2)), axis=0)
    if kind in ("leaps", "teleport"):
        out = xy.copy()
        many = rng.integers(0, n, max(1, n // 20))
        out[many] += rng.normal(0, 300.0 if kind == "leaps" else 3e6, (len(many), 2))
        return out
    return {
        "reversed": lambda: xy[::-1],
        "first half": lambda: xy[: max(1, n // 2)],
        "last half": lambda: xy[n // 2 :],
        "middle missing": lambda: np.delete(xy, np.s_[n // 3 : 2 * n // 3], axis=0),
        "every point twice": lambda: np.repeat(xy, 2, axis=0),
        "few points": lambda: xy[:: max(1, n // 5)],
        "one point": lambda: xy[:1],
        "mirrored": lambda: xy * (1, -1),
        "shifted": lambda: xy + rng.normal(0, 60.0, 2),
        "shuffled": lambda: rng.permutation(xy, axis=0),
        "other way": lambda: shape("walk", n, 1000.0, rng),
        "rounded": lambda: np.round(xy, -1),
    }.get(kind, lambda: xy)()


def wander(n: int, half: int, rng: np.random.Generator) -> Floats:
    """Return errors of standard deviation 1, alike over ``half`` points either way, shape (n, 2)."""
    white = rng.normal(size=(n + 2 * half, 2))
    total = np.cumsum(np.vstack([np.zeros((1, 2)), white]), axis=0)
    return (total[2 * half :] - total[: -2 * half])[:n] / np.sqrt(2 * half)


# --- clocks -------------------------------------------------------------------------------------------


def clock(kind: str, n: int, start_s: float, rng: np.random.Generator) -> list[str]:
    """Return the texts of the times of ``n`` points."""
    second = np.arange(n, dtype=np.float64)
    time_s = start_s + second * {"slow": 60.0, "fast": 0.05, "fractions": 0.137}.get(kind, 1.0)
    if kind == "none":
        return [""] * n
    if kind == "year 9999":
        return ["9999-12-31T23:59:59Z"] * n
    if kind == "backwards":
        time_s = time_s[::-1]
    elif kind == "shuffled":
        time_s = rng.permutation(time_s)
    elif kind == "stands still":
        time_s = np.full(n, start_s)
    elif kind in ("1970", "2106"):
        time_s = time_s - start_s + (4.3e9 if kind == "2106" else 0.0)
    elif kind == "now and then":
        time_s = start_s + np.cumsum(rng.choice([1.0, 2.0, 7.0, 90.0], n))
    elif kind == "day's pause":
        time_s = time_s + 86_400.0 * (second > n / 2)
    elif kind == "leaps":
        time_s = time_s + rng.choice([0.0, 0.0, 0.0, 1e6, -1e6], n)
    zone = "" if kind == "naive" else "Z"
    texts = [f"{datetime.fromtimestamp(t, UTC):%Y-%m-%dT%H:%M:%S.%f}{zone}" for t in time_s.tolist()]
    if kind == "half known":
        texts = [text if keep else "" for text, keep in zip(texts, rng.random(n) < 0.5, strict=True)]
    return texts


# --- files ---------------------------------------------------------------------------------------------


def degrees(xy: Floats, place: tuple[float, float]) -> list[tuple[str, str]]:
    """Return longitude and latitude as texts, longitudes in [-180, 180]."""
    lat = np.clip(place[1] + xy[:, 1] / METRES_PER_DEGREE, -90.0, 90.0)
    lon = place[0] + xy[:, 0] / METRES_PER_DEGREE / max(np.cos(np.radians(place[1])), 1e-3)
    lon = (lon + 180.0) % 360.0 - 180.0
    return [(f"{a:.7f}", f"{b:.7f}") for a, b in zip(lon.tolist(), lat.tolist(), strict=True)]


def gpx(places: list[tuple[str, str]], times: list[str], breaks: set[int], name: str) -> bytes:
    """Return a GPX file."""
    out = [f'<gpx version="1.1" creator="{escape(name)}"><trk><name>{escape(name)}</name><trkseg>']
    for i, ((lon, lat), time) in enumerate(zip(places, times, strict=True)):
        out.append("</trkseg><trkseg>" if i in breaks else "")
        stamp = f"<time>{time}</time>" if time else ""
        out.append(f'<trkpt lat="{lat}" lon="{lon}"><ele>{i}</ele>{stamp}</trkpt>')
    return "".join([*out, "</trkseg></trk></gpx>"]).encode("utf-8", "replace")


def table(places: list[tuple[str, str]], times: list[str], breaks: set[int], name: str) -> bytes:
    """Return a CSV file."""
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["time", "lon", "lat", "receiver"])
    for (lon, lat), time in zip(places, times, strict=True):
        rows.writerow([time, lon, lat, name])
    return out.getvalue().encode("utf-8", "replace")


def sheet(files: list[str], names: list[str], starts: list[str]) -> bytes:
    """Return a table of rides."""
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["file", "receiver", "ride", "start_pressed", "note"])
    for i, (file, name, start) in enumerate(zip(files, names, starts, strict=True)):
        rows.writerow([file, name, str(i // 2), start, name])
    return out.getvalue().encode("utf-8", "surrogateescape")


def safe(name: str) -> str:
    """Return a name that a file can bear."""
    return name.replace("/", "_").replace("\0", "_") or "_"


STARTS = st.sampled_from(["", "2031-03-03T06:59:30Z", "07:00:00", "yesterday", "2031-03-03T06:59:58+00:00"])
OPTIONS = st.fixed_dictionaries(
    {},
    optional={
        "segment_m": st.sampled_from([10.0, 25.0, 100.0, 1e5]),
        "station_step_m": st.sampled_from([1.0, 2.5, 5.0]),
        "reach_m": st.sampled_from([10.0, 60.0, 500.0]),
        "gap_m": st.sampled_from([10.0, 80.0, 1e4]),
        "corridor_m": st.sampled_from([10.0, 40.0, 500.0]),
        "min_traces": st.sampled_from([2, 3, 100]),
        "stretch_min_m": st.sampled_from([5.0, 30.0, 1e4]),
        "settle_hold_s": st.sampled_from([1.0, 30.0, 3600.0]),
        "confidence": st.sampled_from([0.5, 0.95, 0.999]),
        "laps": st.booleans(),
        "grid": st.sampled_from(["local", "utm"]),
    },
)


ODDITY = {
    "mild": ((SHAPES[:8]), ("none",) * 8 + TWISTS[3:9], ("seconds",) * 6 + CLOCKS, (0.5, 2.0, 3.0, 3.0, 6.0)),
    "wild": (SHAPES, TWISTS, CLOCKS, (0.0, 0.5, 3.0, 30.0, 500.0)),
}
"""Shapes, twists, clocks and noises to draw from."""


@st.composite
def odd_rides(draw: Any, most_points: int = 400) -> OddRides:
    """Draw a set of 1 to 7 traces of one line; in a mild one most are rides of it, with a few faults."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    place = draw(st.sampled_from(PLACES))
    oddity = draw(st.sampled_from(["mild", "mild", "mild", "wild"]))
    shapes, twists, clocks, noises = (st.sampled_from(each) for each in ODDITY[oddity])
    kind = draw(shapes)
    length_m = draw(st.sampled_from([120.0, 300.0, 800.0, 1500.0]))
    line = shape(kind, draw(st.integers(60 if oddity == "mild" else 1, most_points)), length_m, rng)
    files: dict[str, bytes] = {}
    story = [f"{oddity}: {kind} of {len(line)} points, {length_m:.0f} m at {place}"]
    names: list[str] = []
    last = line
    for number in range(draw(st.integers(2 if oddity == "mild" else 1, 7))):
        twist, ticks, noise_m = draw(twists), draw(clocks), draw(noises)
        xy = twisted(twist, line + noise_m * wander(len(line), 25 if oddity == "mild" else 1, rng), last, rng)
        last = xy
        apart_s = draw(st.sampled_from([0.0, 1.0, 3600.0, 86_400.0, 86_400.0]))
        texts = degrees(xy, place)
        for _ in range(draw(st.sampled_from([0, 0, 0, 1, 5]))):
            at, token = int(rng.integers(len(texts))), draw(st.sampled_from(TOKENS))
            texts[at] = (token, texts[at][1]) if draw(st.booleans()) else (texts[at][0], token)
        times = clock(ticks, len(texts), START_S + apart_s * number, rng)
        breaks = set(rng.integers(0, len(texts), 30).tolist()) if twist == "breaks" else set()
        name = draw(st.one_of(st.sampled_from(NAMES), st.sampled_from(PAYLOADS), st.text(max_size=8)))
        form, ending = draw(st.sampled_from([(gpx, ".gpx"), (gpx, ".gpx"), (table, ".csv")]))
        folder = draw(st.sampled_from(["", "sedge/", "moss/", safe(name)[:40].strip(".") + "_/"]))
        file = f"{folder}{number}{safe(name)[:60]}{ending}"
        files[file] = form(texts, times, breaks, name)
        names.append(name)
        story.append(f"{file!r}: {twist}, clock {ticks}, noise {noise_m}, {len(texts)} points")
    if draw(st.booleans()):
        starts = [draw(STARTS) for _ in files]
        files["rides.csv"] = sheet(list(files), names, starts)
    drawn = b""
    if draw(st.integers(0, 3)) == 0:
        drawn = gpx(degrees(line, place), [""] * len(line), set(), "line")
    options = draw(OPTIONS) if draw(st.booleans()) else {}
    return OddRides(
        files=files, options=options, reference=drawn, publish=draw(st.booleans()), story=tuple(story)
    )
