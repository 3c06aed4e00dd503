"""What is large or idle takes little memory and time that grows with its size, and no more."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
from collections.abc import Callable

import pytest

from thinly import first_quick
from trackspread.errors import UnreadableFile
from trackspread.readers import parse
from trackspread.readers.limits import MOST_POINTS

HEAD = b'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
POINT = b'<trkpt lat="-48.9" lon="69.4"><time>2025-01-01T00:00:00Z</time></trkpt>'
TAIL = b"</trkseg></trk></gpx>"
GGA = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\n"
KML = b'<kml xmlns="http://www.opengis.net/kml/2.3"><Document>%s</Document></kml>'

IDLE: dict[str, tuple[str, Callable[[int], bytes]]] = {
    "blanks before the first tag": ("a.gpx", lambda n: b" " * (40 * n) + HEAD + POINT * 20 + TAIL),
    "blanks in KML": ("a.kml", lambda n: b"\n" * (40 * n) + KML % b""),
    "declarations": ("a.gpx", lambda n: b"<?xml" * (8 * n) + HEAD),
    "declaration without an end": ("a.gpx", lambda n: b"<?xml " + b" " * (40 * n) + HEAD),
    "idle elements among points": ("a.gpx", lambda n: HEAD + POINT * 20 + b"<x/>" * (10 * n) + TAIL),
    "idle elements in KML": ("a.kml", lambda n: KML % (b"<x/>" * (10 * n))),
    "ampersands": ("a.gpx", lambda n: HEAD + POINT * 20 + b"&" * (40 * n) + TAIL),
    "open tags": ("a.gpx", lambda n: HEAD + b"<a:" * (13 * n)),
    "prefixed attributes": ("a.gpx", lambda n: HEAD + b" a:b " * (8 * n)),
    "one long word": ("a.gpx", lambda n: HEAD + b"<trkpt " + b"a" * (40 * n) + b":b"),
    "empty lines in a table": ("a.csv", lambda n: b"lon,lat\n" + b"\n" * (40 * n)),
    "empty cells in a table": ("a.csv", lambda n: b"lon,lat\n" + b"," * (40 * n)),
    "open quote in a table": ("a.csv", lambda n: b'lon,lat\n"' + b"a\n" * (20 * n)),
    "dollars in a log": ("a.nmea", lambda n: GGA + b"$" * (40 * n)),
    "sentences cut short": ("a.nmea", lambda n: GGA + b"$GPGGA," * (6 * n)),
}


@pytest.mark.parametrize("kind", IDLE)
def test_twice_the_input_takes_about_twice_the_time(kind: str) -> None:
    """Linear growth: at most 2.5 times, the best of three turns each, so that a busy machine does not count."""
    name, make = IDLE[kind]

    def seconds(n: int) -> float:
        data, best = make(n), float("inf")
        for _ in range(3):
            start = time.process_time()
            with contextlib.suppress(UnreadableFile):
                parse(name, data, True)
            best = min(best, time.process_time() - start)
        return best

    assert seconds(20_000) <= 2.5 * seconds(10_000) + 0.02


MEMORY = """
import resource, sys
from trackspread.errors import UnreadableFile
from trackspread.readers import parse
name, data = {name!r}, {data}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try: parse(name, data, True)
except UnreadableFile as error: print(str(error), file=sys.stderr)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.parametrize(
    ("name", "data", "words"),
    first_quick(
        [
            ("a.gpx", f"{HEAD!r} + {POINT!r} * 20 + b'<x/>' * 1_500_000 + {TAIL!r}", ""),
            (
                "a.gpx",
                f"{HEAD!r} + {POINT[:-8]!r} + b'<x/>' * 1_500_000 + b'</trkpt>' + {TAIL!r}",
                "elements inside",
            ),
            ("a.csv", "b'lon,lat\\n' + b'1,2\\n' * 3_000_000", "split the recording by rides"),
            ("a.csv", "b'lon,lat\\n' + b'\\n' * 6_000_000", f"at most {MOST_POINTS} points"),
            ("a.nmea", f"{GGA!r} + b'\\n' * 6_000_000", ""),
        ]
    ),
    ids=["idle elements", "in one point", "many rows", "empty rows", "empty lines"],
)
def test_memory_stays_below_what_was_seen(name: str, data: str, words: str) -> None:
    """Seen: 33, 150, 330, 30 and 20 MB; the first edition took 1.9 GB for 74 kB packed of such elements."""
    code = MEMORY.format(name=name, data=data)
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    assert int(run.stdout) < 500
    assert words in run.stderr
