"""Coverage-guided fuzzing of the readers with atheris (no dependency of the project).

Cases that it finds become kinds of the corpus or examples in ``tests/readers``. From ``tests``::

    pip install atheris
    python -m fuzz.fuzz_readers gpx -max_total_time=180 -rss_limit_mb=3000
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

INSTRUMENTED = ["trackspread.readers", "gpxpy", "fitdecode", "pynmea2", "xml", "defusedxml"]
with atheris.instrument_imports(include=INSTRUMENTED):
    from corpus.make_corpus import KINDS
    from trackspread.errors import UnreadableFile
    from trackspread.readers import recognise
    from trackspread.readers.formats import fit, gpx, kml, nmea, table, tcx
    from world import Receiver, simulate
    from world.activity_files import fit_bytes, tcx_text

READERS = {
    "gpx": gpx.parse_gpx, "fit": fit.parse_fit, "tcx": tcx.parse_tcx, "kml": kml.parse_kml, "nmea": nmea.parse_nmea, "csv": table.parse_csv,
    "any": lambda file, data: recognise.parse(file, data, True),
}  # fmt: skip
SUFFIXES = {
    "gpx": ".gpx",
    "fit": ".fit",
    "tcx": ".tcx",
    "kml": ".kml",
    "nmea": ".nmea",
    "csv": ".csv",
    "any": "",
}


def seeds(folder: Path, suffix: str) -> None:
    """Write the kinds of the corpus that are single files of this format."""
    for number, make in enumerate(KINDS.values()):
        place = Path(tempfile.mkdtemp(dir=folder.parent))
        path = make(place)
        if path.is_file() and path.suffix.endswith(suffix) and path.stat().st_size < 20_000:
            (folder / str(number)).write_bytes(path.read_bytes())
    for recording in simulate(seed=1, receivers=[Receiver(name="sedge")], rides=2, length_m=300).recordings:
        if suffix in (".fit", ".tcx", ""):
            data = tcx_text(recording).encode() if suffix == ".tcx" else fit_bytes(recording)
            (folder / f"world-{recording.ride}").write_bytes(data)


def main() -> None:
    """Run one reader until time is up or it raises anything but a refusal."""
    name = sys.argv.pop(1)
    read = READERS[name]

    def one(data: bytes) -> None:
        try:
            traces, _ = read("a" + SUFFIXES[name], data)
        except UnreadableFile:
            return
        if any(abs(lat) > 90.0 for trace in traces for lat in trace.lat_deg.tolist()):
            raise AssertionError("a place that cannot be")

    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "seeds"
        corpus.mkdir()
        seeds(corpus, SUFFIXES[name])
        atheris.Setup([*sys.argv, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
