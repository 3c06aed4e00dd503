"""A small writer of FIT bytes, by the published protocol, for what no library writes: odd and broken files.

Record header, definition and data messages, compressed timestamps, developer fields and the CRC follow the
published description of the FIT protocol (headers of one byte; CRC-16 with the polynomial 0x8005, reflected).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

EPOCH_S = 631_065_600
INVALID = 0x7FFFFFFF
START, STOP = 0, 1
BASE = {"B": 0x02, "b": 0x01, "H": 0x84, "h": 0x83, "I": 0x86, "i": 0x85, "E": 0x00, "Z": 0x8C}
TYPES = {"E": "B", "Z": "I"}


def crc(data: bytes) -> int:
    """Return the CRC, bit by bit: CRC-16/ARC, whose value for ``123456789`` is 0xBB3D."""
    value = 0
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ (0xA001 if value & 1 else 0)
    return value


def semicircles(degrees: float) -> int:
    return round(degrees * 2**31 / 180.0)


@dataclass
class Fit:
    """Bytes of one FIT file; ``big`` writes numbers with the high byte first."""

    big: bool = False
    body: bytearray = field(default_factory=bytearray)
    layouts: dict[int, str] = field(default_factory=dict)

    @property
    def order(self) -> str:
        return ">" if self.big else "<"

    def define(
        self,
        local: int,
        message: int,
        fields: Sequence[tuple[int, str]],
        developer: Sequence[tuple[int, int, int]] = (),
    ) -> None:
        """Define a local message; ``fields`` are numbers and letters of `BASE`, or sizes of texts (``s20``)."""
        self.body += bytes([0x40 | (0x20 if developer else 0) | local, 0, int(self.big)])
        self.body += struct.pack(self.order + "HB", message, len(fields))
        for number, letter in fields:
            text = letter.startswith("s")
            size = int(letter[1:]) if text else struct.calcsize(TYPES.get(letter, letter))
            self.body += bytes([number, size, 0x07 if text else BASE[letter]])
        if developer:
            self.body += bytes([len(developer)])
            for number, size, index in developer:
                self.body += bytes([number, size, index])
        letters = [
            f"{letter[1:]}s" if letter.startswith("s") else TYPES.get(letter, letter) for _, letter in fields
        ]
        self.layouts[local] = self.order + "".join(letters) + "".join(f"{size}s" for _, size, _ in developer)

    def data(self, local: int, *values: object, offset: int | None = None) -> None:
        """Write a data message, with a compressed timestamp where ``offset`` is given."""
        self.body.append(local if offset is None else 0x80 | local << 5 | offset & 0x1F)
        self.body += struct.pack(self.layouts[local], *values)

    def bytes(self, wrong: int = 0) -> bytes:
        """Return the file; ``wrong`` is added to the checksum."""
        head = struct.pack("<BBHI4s", 14, 0x20, 2100, len(self.body), b".FIT")
        whole = head + struct.pack("<H", crc(head)) + bytes(self.body)
        return whole + struct.pack("<H", (crc(whole) + wrong) & 0xFFFF)


def activity(
    times_s: Sequence[float], places: Sequence[tuple[float, float] | None], *, start_s: float | None = None,
    pauses: Sequence[tuple[float, float]] = (), big: bool = False, kind: int = 4, serial: int = 4711,
    product: bytes = b"Sedge 2", version: int = 310, accuracy_m: int | None = None,
    sessions: Sequence[float] = (), wrong: int = 0,
) -> bytes:  # fmt: skip
    """Return an activity: ``places`` are longitude and latitude, None where the watch had no fix."""
    fit = Fit(big=big)
    fit.define(0, 0, [(0, "E"), (1, "H"), (2, "H"), (3, "Z"), (4, "I"), (8, "s20")])
    fit.data(0, kind, 255, 7, serial, int(times_s[0]) - EPOCH_S, product)
    fit.define(1, 49, [(0, "H")])
    fit.data(1, version)
    fit.define(2, 21, [(253, "I"), (0, "E"), (1, "E")])
    fit.define(3, 20, [(253, "I"), (0, "i"), (1, "i"), (2, "H"), (31, "B")])
    events = [(start_s, START)] if start_s is not None else []
    events += [event for low, high in pauses for event in ((low, STOP), (high, START))]
    events.sort()
    for time_s, place in zip(times_s, places, strict=True):
        while events and events[0][0] <= time_s:
            at_s, what = events.pop(0)
            fit.data(2, int(at_s) - EPOCH_S, 0, what)
        lon, lat = (INVALID, INVALID) if place is None else map(semicircles, place)
        claim = 255 if accuracy_m is None else accuracy_m
        fit.data(3, int(time_s) - EPOCH_S, lat, lon, 5 * (500 + 120), claim)
    fit.define(4, 18, [(253, "I"), (2, "I"), (5, "E")])
    for at_s in sessions:
        fit.data(4, int(times_s[-1]) - EPOCH_S, int(at_s) - EPOCH_S, 2)
    return fit.bytes(wrong)
