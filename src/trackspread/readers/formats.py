"""Which reader a file belongs to: by its first bytes, then by its name."""

from __future__ import annotations

import re

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Trace

_NMEA = re.compile(rb"\$[A-Z]{2}[A-Z]{3},")
_NOTHING = b"\0 \t\r\n"
_OUTERMOST = re.compile(r"<(?![?!])(?:[\w.-]+:)?([\w.-]+)")
_NO_TRACES = re.compile(
    r"|\.(md|txt|log|pdf|jpe?g|png|webp|heic|gif|svg|tiff?|mp4|mov|html?|css|js|json|geojson|xml|py|sh|ini|toml|"
    r"ya?ml|csv|tsv|xlsx|ods|odt|docx|gpkg|npz|db|part)"
)


def parse(file: str, data: bytes, asked: bool) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of one file and what is wrong with parts of it; depends on its arguments only.

    A file that the user did not name and that is plainly no trace gives nothing at all.

    Raises
    ------
    UnreadableFile
        The file is a trace, or was named, and cannot be used.
    """
    name = file.lower().removesuffix(".gz")
    suffix = name[name.rfind(".") :] if "." in name.replace("\\", "/").rpartition("/")[2] else ""
    empty = not data[:4000].strip(_NOTHING) and not data.strip(_NOTHING)
    head = _head(data)
    outermost = _OUTERMOST.search(head)
    root = outermost[1] if outermost and head.lstrip("\ufeff").lstrip()[:1] == "<" else ""
    if empty and (asked or not _NO_TRACES.fullmatch(suffix)):
        rule = "the file is empty"
        raise UnreadableFile(Problem(file=file, rule=rule, remedy="copy it again, or leave it out"))
    if root == "gpx" or (suffix == ".gpx" and root != "kml"):
        from trackspread.readers.gpx import parse_gpx

        return parse_gpx(file, data)
    if root == "kml" or suffix == ".kml":
        from trackspread.readers.kml import parse_kml

        return parse_kml(file, data)
    if data[:4] == b"PAR1" or suffix == ".parquet":
        from trackspread.readers.table import parse_parquet

        return parse_parquet(file, data)
    if _NMEA.search(data[:4000]) or suffix in (".nmea", ".nma"):
        from trackspread.readers.nmea import parse_nmea

        return parse_nmea(file, data)
    if suffix in (".csv", ".tsv") and (asked or _looks_like_points(head)):
        from trackspread.readers.table import parse_csv

        return parse_csv(file, data)
    if asked or not _NO_TRACES.fullmatch(suffix):
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
