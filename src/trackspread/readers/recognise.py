"""Which reader a file belongs to: by its first bytes, then by its name."""

from __future__ import annotations

import re
from importlib import import_module

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Trace

_NMEA = re.compile(rb"\$[A-Z]{2}[A-Z]{3},")
READERS = {
    "gpx": ("gpx", "parse_gpx"),
    "fit": ("fit", "parse_fit"),
    "tcx": ("tcx", "parse_tcx"),
    "kml": ("kml", "parse_kml"),
    "nmea": ("nmea", "parse_nmea"),
    "csv": ("table", "parse_csv"),
    "parquet": ("table", "parse_parquet"),
}
_ROOTS = {"gpx": "gpx", "kml": "kml", "TrainingCenterDatabase": "tcx"}
_SUFFIXES = {f".{kind}": kind for kind in READERS} | {".nma": "nmea", ".tsv": "csv"}
_NOTHING = b"\0 \t\r\n"
_OUTERMOST = re.compile(r"<(?![?!])(?:[\w.-]+:)?([\w.-]+)")
_NO_TRACES = re.compile(
    r"|\.(md|txt|log|pdf|jpe?g|png|webp|heic|gif|svg|tiff?|mp4|mov|html?|css|js|json|geojson|xml|py|sh|ini|toml|"
    r"ya?ml|csv|tsv|xlsx|ods|odt|docx|gpkg|npz|db|part)"
)


def parse(file: str, data: bytes, asked: bool) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of one file and what is wrong with parts of it; depends on its arguments only.

    A file that the user did not name and that is plainly no trace gives nothing at all.

    Parameters
    ----------
    file : str
        The file as the user named it.
    data : bytes
        What it holds.
    asked : bool
        Whether the user named this file, and not its folder.

    Returns
    -------
    traces : list of Trace
    problems : list of Problem

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
    kind = _kind(root, suffix, data)
    if kind == "csv" and not (asked or _looks_like_points(head)):
        kind = ""
    if kind:
        module, function = READERS[kind]
        return getattr(import_module(f"trackspread.readers.formats.{module}"), function)(file, data)  # type: ignore[no-any-return]
    if asked or not _NO_TRACES.fullmatch(suffix):
        rule = "this is none of the formats GPX, FIT, TCX, NMEA 0183, KML, CSV and Parquet"
        raise UnreadableFile(Problem(file=file, rule=rule, remedy="export the recording as GPX"))
    return [], []


def _kind(root: str, suffix: str, data: bytes) -> str:
    """Return the format of a file, "" for none that is known: by its first bytes, then by its name."""
    by_bytes = _ROOTS.get(root, "")
    if data[:4] == b"PAR1":
        by_bytes = "parquet"
    elif data[8:12] == b".FIT":
        by_bytes = "fit"
    elif not by_bytes and suffix not in _SUFFIXES and _NMEA.search(data[:4000]):
        by_bytes = "nmea"
    return by_bytes or _SUFFIXES.get(suffix, "")


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
