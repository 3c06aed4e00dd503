"""What readers notice while they read, gathered by kind with the first place of each."""

from __future__ import annotations

from dataclasses import replace

from trackspread.errors import printable
from trackspread.model import Finding, Trace

CODES = {
    "bad position": "points whose latitude or longitude is missing, no number or out of range were set aside",
    "no fix": "points that say themselves that there was no fix were set aside",
    "no position": "records have no position: the watch was waiting for its fix, or had lost it",
    "bad checksum of the file": "the checksum of the file does not hold: some bytes may be wrong",
    "too long": "the file asks for more work than a day and a half of recording; what stands before was read",
    "null island": "points at 0, 0, far from all others, were set aside",
    "far off": "points thousands of kilometres from all others were set aside",
    "stale start": "first points that stand far from where the ride then leaps to, were set aside",
    "decimal comma": "numbers were written with a decimal comma and read as such",
    "bad time": "times that cannot be read were left out",
    "time without zone": "times without a time zone were taken as UTC",
    "leap second": "seconds written as 60 were read as 59",
    "time backwards": "times that run backwards were left out",
    "same time": "points with the time of the point before were set aside",
    "odd clock": "times before 1990 or after 2099: the clock of the watch was not set",
    "week number": "the clock stood 1,024 weeks back: the week number rolled over; its times were moved on",
    "stuck clock": "the times hardly ever move on; they were left out",
    "bad elevation": "elevations that cannot be read were left out",
    "encoding": "the text is not in the encoding that the file declares; it was read as Latin-1",
    "broken off": "the file breaks off or is not well-formed; what stands before that place was read",
    "mended": "the XML is not well-formed; it was mended where the remedy is plain",
    "bad checksum": "sentences whose checksum does not hold were set aside",
    "bad sentence": "sentences that cannot be read were set aside",
    "no date": "the log never says the date; times are not known",
    "bad row": "rows with missing or unreadable columns were set aside",
    "unequal lists": "a track whose lists of times and places differ in length was read up to the shorter",
    "rest": "the watch stood for ten minutes or more: what it logged meanwhile was set aside",
    "resumed": "the recording stopped for long and came over its own way again: it was cut into rides",
    "went on elsewhere": "the recording stopped for long and went on elsewhere: it was cut into rides",
    "rode on": "the recording holds a whole route and goes on elsewhere: what lies beyond was cut off",
    "there and back": "85 % or more of the way was ridden back: the recording was cut at the turning point",
    "laps": "the recording comes by one place again and again: split it into laps with --laps",
}

WAITS = ("no position", "no fix")
"""What is no fault of a file: the watch logged while it had no fix."""


def noticed(trace: Trace, code: str, count: int) -> Trace:
    """Return a trace with one more finding, of the whole recording.

    Parameters
    ----------
    trace : Trace
    code : str
        Of `CODES`.
    count : int
        How many there are of what was noticed.

    Returns
    -------
    Trace
    """
    found = Finding(code=code, count=count, text=CODES[code], first_place="")
    return replace(trace, findings=(*trace.findings, found))


class Notes:
    """Counts findings by code and remembers where each was first seen."""

    def __init__(self) -> None:
        self._count: dict[str, int] = {}
        self._first: dict[str, str] = {}

    def note(self, code: str, place: str, count: int = 1) -> None:
        """Count ``count`` more of a kind in `CODES`."""
        if count:
            self._first.setdefault(code, printable(place, 120))
            self._count[code] = self._count.get(code, 0) + count

    def first(self, code: str) -> str:
        """Return the first place of a kind, "" where it was not seen."""
        return self._first.get(code, "")

    def add(self, other: Notes) -> None:
        """Take over all that ``other`` has counted."""
        for code, count in other._count.items():
            self.note(code, other._first[code], count)

    def findings(self) -> tuple[Finding, ...]:
        """Return all findings in the order in which their kinds were first seen."""
        return tuple(
            Finding(code=code, count=count, text=CODES[code], first_place=self._first[code])
            for code, count in self._count.items()
        )
