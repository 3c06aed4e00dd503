"""Which reader a file belongs to: by its first bytes, then by its name."""

from __future__ import annotations

import re

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Trace

_NMEA = re.compile(rb"^\s*(?:[^$\n]{0,80}\$|\$)[A-Z]{2}[A-Z]{3},", re.MULTILINE)
_XML_ROOT = re.compile(r"<(?![?!])(?:[\w.-]+:)?([\w.-]+)")
NO_TRACES = (".csv", ".txt", ".log", ".xml", ".tsv")


def parse(file: str, data: bytes, asked: bool) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of one file and what is wrong with parts of it.

    A file that the user did not name and that is plainly no trace gives nothing at all.

    Raises
    ------
    UnreadableFile
        The file is a trace, or was named, and cannot be used.
    """
    name = file.lower().removesuffix(".gz")
    head = _head(data)
    root = _XML_ROOT.search(head)
    if name.endswith(".kml") or (root and root.group(1) == "kml"):
        from trackspread.readers.kml import parse_kml

        return parse_kml(file, data)
    if name.endswith(".gpx") or (root and root.group(1) == "gpx"):
        from trackspread.readers.gpx import parse_gpx

        return parse_gpx(file, data)
    if data[:4] == b"PAR1" or name.endswith(".parquet"):
        from trackspread.readers.table import parse_parquet

        return parse_parquet(file, data)
    if _NMEA.search(data[:4000]) or name.endswith((".nmea", ".nma")):
        from trackspread.readers.nmea import parse_nmea

        return parse_nmea(file, data)
    if name.endswith((".csv", ".tsv")) and (asked or _looks_like_points(head)):
        from trackspread.readers.table import parse_csv

        return parse_csv(file, data)
    if asked:
        rule = "this is none of the formats GPX, NMEA 0183, KML, CSV and Parquet"
        raise UnreadableFile(Problem(file=file, rule=rule, remedy="export the recording as GPX"))
    return [], []


def _head(data: bytes) -> str:
    """Return the start of a file as text, in whatever encoding."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data[:8000].decode("utf-16", "replace")
    if b"\x00" in data[:4]:
        return data[:8000].replace(b"\x00", b"").decode("latin-1")
    return data[:4000].decode("utf-8", "replace")


def _looks_like_points(head: str) -> bool:
    first = head.partition("\n")[0].lower()
    return "lat" in first and ("lon" in first or "lng" in first)
