"""What readers give: findings, traces, and who recorded them when."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from trackspread.errors import Problem
from trackspread.model.arrays import Bools, FixSource, Floats, first_known
from trackspread.model.notebook import ShortRepr

CLAIMS = ("accuracy_m", "hdop", "pdop", "satellites")


def _none() -> Floats:
    return np.empty(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """Something noticed while reading: points set aside, a repaired time, an odd clock.

    ``code`` is a stable word (documented in docs/messages.md), ``first_place`` such as
    ``track 1, segment 2, point 17`` or ``line 12``.
    """

    code: str
    count: int
    text: str
    first_place: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """What a file says of the device that recorded it; ``""`` where it does not.

    ``writer`` is the program that wrote the file, which need not be the device.
    """

    maker: str = ""
    product: str = ""
    serial: str = ""
    firmware: str = ""
    writer: str = ""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Claims:
    """What a receiver says of its own accuracy at each point, shape (P,), or (0,) where it says nothing.

    Only ``accuracy_m`` is a claim in metres. ``hdop`` and ``pdop`` are factors of the satellites' geometry,
    without a unit, and ``satellites`` is how many were used.
    """

    accuracy_m: Floats = field(default_factory=_none)
    hdop: Floats = field(default_factory=_none)
    pdop: Floats = field(default_factory=_none)
    satellites: Floats = field(default_factory=_none)

    def at(self, keep: Bools | slice) -> Claims:
        """Return the claims of some of the points."""
        return Claims(**{name: values[keep] for name in CLAIMS if len(values := getattr(self, name))})


@dataclass(frozen=True, kw_only=True, slots=True, eq=False, repr=False)
class Trace(ShortRepr):
    """One recording in order of travel, as read.

    Parameters
    ----------
    file : str
        The file as named to the user, ``folder.zip/member.gpx`` for a member of an archive.
    format : str
        ``"GPX 1.1"``, ``"NMEA 0183"``, ``"KML 2.3"``, ``"CSV"``, …
    part : int
        Number of the trace in its file, from 0.
    name : str
        Name the file gives it; hostile text, never to be trusted.
    time_s, lon_deg, lat_deg, elevation_m : ndarray, shape (P,)
        ``NaN`` in ``time_s`` and ``elevation_m`` where there is none. Longitude in [-180, 180).
    break_before : ndarray of bool, shape (P,)
        Whether the recording was interrupted before this point (a new track segment).
    start_s : float
        When the file itself says that recording started (seconds UTC), ``NaN`` where it does not. It may
        lie after the first point where ``start_from`` is ``"timer"``.
    start_from : str
        ``"timer"`` where that is when the timer was started, else ``"file"``.
    start_reason : str
        Code of why there is no start, where the file tells more than that it holds none.
    receiver, ride : str
        What the file's own metadata say; ``""`` where they do not.
    points_set_aside : int
        Points of the file that could not be used.
    findings : tuple of Finding
    device : Device
    claims : Claims
    """

    file: str
    format: str
    part: int = 0
    name: str = ""
    time_s: Floats
    lon_deg: Floats
    lat_deg: Floats
    elevation_m: Floats
    break_before: Bools
    start_s: float = float("nan")
    receiver: str = ""
    ride: str = ""
    points_set_aside: int = 0
    findings: tuple[Finding, ...] = ()
    start_from: FixSource = "file"
    start_reason: str = ""
    device: Device = field(default_factory=Device)
    claims: Claims = field(default_factory=Claims)

    def at(self, keep: Bools | slice) -> Trace:
        """Return the trace with some of its points; it breaks where it broke since the last one."""
        breaks = np.cumsum(self.break_before)[keep]
        names = ("time_s", "lon_deg", "lat_deg", "elevation_m")
        return replace(
            self,
            **{name: getattr(self, name)[keep] for name in names},
            break_before=np.diff(breaks, prepend=breaks[:1]) > 0,
            claims=self.claims.at(keep),
        )

    def first_time_s(self) -> float:
        """Return the first time that is known, seconds UTC; NaN where there is none."""
        return first_known(self.time_s)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Witness:
    """A trace with the answers to who, when and which, and where each answer comes from.

    ``receiver_from``, ``ride_from`` are ``"sheet"`` (rides.csv), ``"folder"``, ``"file"``,
    ``"pattern"`` (a word in the file names), ``"overlap"`` or ``"none"``; anything but ``"sheet"`` is
    inferred and shown as such.
    ``start_s`` is when start was pressed and ``start_source`` who says so; ``start_reason`` is the code of
    why there is none, where more is known than that nobody noted it. ``fix_seen_s`` is when the rider saw
    that the watch showed a fix. ``route`` is what the rider calls the route, ``colour`` in what the watch is
    drawn. ``other`` are the cells of the columns that the tool does not know, by their names.
    """

    trace: Trace
    receiver: str
    ride: str
    receiver_from: str
    ride_from: str
    start_s: float
    start_source: FixSource
    start_reason: str = ""
    note: str = ""
    firmware: str = ""
    fix_seen_s: float = float("nan")
    route: str = ""
    colour: str = ""
    other: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Recordings:
    """What was read: every trace with who, when and which, and what could not be used."""

    witnesses: tuple[Witness, ...]
    problems: tuple[Problem, ...] = ()

    def __len__(self) -> int:
        return len(self.witnesses)

    def __repr__(self) -> str:
        watches = len({witness.receiver for witness in self.witnesses})
        return f"Recordings: {len(self)} traces of {watches} watches, {len(self.problems)} problems"
