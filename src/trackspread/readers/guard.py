"""A guard in front of the GPX library: hostile or broken XML in, a small clean GPX text out.

The library loses a whole file to one bad latitude, lets 91.5, nan and inf pass, takes any XML for a GPX
without points, and knows neither prefixes nor UTF-16. So the text is read once by expat (no document
types, no entities, bounded depth), and only what the analysis uses is passed on, point by point.
"""

from __future__ import annotations

import math
import re
from datetime import date
from functools import lru_cache
from xml.parsers import expat

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.readers.notes import Notes

DEEPEST = 40
MOST_ELEMENTS = 50_000_000
LONGEST_TEXT = 500
_TIME = re.compile(
    r"\d{4}-(?:0[1-9]|1[0-2])-(?:[0-2]\d|3[01])T(?:[01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(?:[.,]\d+)?(Z|[+-]\d\d:?\d\d)?"
)
_TEXT_OF = frozenset(("time", "ele", "fix", "name", "src"))
_DECLARED = re.compile(rb"""^\s*<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")


class _Stop(Exception):
    """Raised inside expat's callbacks to refuse a file."""


def decoded(data: bytes, notes: Notes) -> str:
    """Return the text of an XML file: by byte order mark, declaration, UTF-8, and at last Latin-1."""
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(name, "replace")
    if data[:4] in (b"<\x00?\x00", b"<\x00g\x00"):
        return data.decode("utf-16-le", "replace")
    if data[:4] in (b"\x00<\x00?", b"\x00<\x00g"):
        return data.decode("utf-16-be", "replace")
    declared = _DECLARED.match(data[:200])
    for name in ((declared.group(1).decode(),) if declared else ()) + ("utf-8",):
        try:
            return data.decode(name)
        except (LookupError, UnicodeDecodeError):
            continue
    notes.note("encoding", "whole file")
    return data.decode("latin-1")


class Guard:
    """Reads one GPX text; afterwards ``clean`` is a GPX text without anything the library trips over.

    ``places`` holds, for each track, the segment and point number of each point that was passed on.
    """

    def __init__(self, file: str, notes: Notes) -> None:
        self.file, self.notes = file, notes
        self.version, self.creator, self.root = "", "", ""
        self.other_points = 0
        self.set_aside: list[int] = []
        self.places: list[list[tuple[int, int]]] = []
        self._out: list[str] = []
        self._stack: list[str] = []
        self._elements = 0
        self._text: list[str] | None = None
        self._point: dict[str, str] | None = None
        self._segment = self._number = 0
        self._parser = expat.ParserCreate()

    def read(self, text: str) -> None:
        """Read the whole text; raises `UnreadableFile` for what is no GPX."""
        parser = self._parser
        parser.buffer_text = True
        parser.StartElementHandler, parser.EndElementHandler = self._start, self._end
        parser.CharacterDataHandler = self._characters
        parser.StartDoctypeDeclHandler = self._doctype
        text = re.sub(r"^\s*<\?xml[^>]*\?>", "", text.lstrip("﻿"), count=1)
        try:
            parser.Parse(text.encode("utf-8", "replace"), True)
        except _Stop as stop:
            raise UnreadableFile(Problem(file=self.file, place=self._line(), rule=str(stop))) from None
        except expat.ExpatError as error:
            self._broken(error)
        if self.root != "gpx":
            rule = "the outermost element must be gpx"
            raise UnreadableFile(
                Problem(file=self.file, value=self.root, rule=rule, remedy="is it another format?")
            )
        self._close()

    @property
    def clean(self) -> str:
        """The clean text."""
        return "".join(self._out)

    def _line(self) -> str:
        return f"line {self._parser.CurrentLineNumber}"

    def _broken(self, error: expat.ExpatError) -> None:
        """Keep what was read before a break, when there are points; refuse the file otherwise."""
        words = expat.ErrorString(error.code)
        if self.root == "gpx" and any(self.places):
            self.notes.note("truncated", f"line {error.lineno}, {words}")
            return
        rule = "this is not well-formed XML"
        remedy = "export it again from the receiver"
        raise UnreadableFile(
            Problem(file=self.file, place=f"line {error.lineno}", value=words, rule=rule, remedy=remedy)
        ) from None

    def _close(self) -> None:
        """Close what a break left open."""
        self._point = None
        for name in reversed(self._stack):
            if name in ("trkseg", "trk", "gpx"):
                self._out.append(f"</{name}>")

    def _doctype(self, *_: object) -> None:
        raise _Stop("document types and entities are not allowed in a trace")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        name = name.rpartition(":")[2]
        self._elements += 1
        self._stack.append(name)
        if len(self._stack) > DEEPEST or self._elements > MOST_ELEMENTS:
            raise _Stop(f"at most {DEEPEST} levels and {MOST_ELEMENTS} elements are allowed")
        self._text = [] if name in _TEXT_OF else None
        depth = len(self._stack)
        if depth == 1:
            self.root = printable(name)
            self.version = attributes.get("version", "1.1")
            self.creator = attributes.get("creator", "")
            if name != "gpx":
                raise _Stop(f"the outermost element must be gpx (found {self.root!r})")
            self._out.append('<gpx version="1.1" creator="">')
        elif name == "trk" and depth == 2:
            self.places.append([])
            self.set_aside.append(0)
            self._segment = 0
            self._out.append("<trk>")
        elif name == "trkseg" and self._stack[1:2] == ["trk"]:
            self._segment += 1
            self._number = 0
            self._out.append("<trkseg>")
        elif name == "trkpt" and self._stack[1:3] == ["trk", "trkseg"]:
            self._number += 1
            self._point = attributes
        elif name in ("wpt", "rtept"):
            self.other_points += 1

    def _characters(self, text: str) -> None:
        if self._text is not None and len(self._text) < LONGEST_TEXT:
            self._text.append(text[:LONGEST_TEXT])

    def _end(self, name: str) -> None:
        name = name.rpartition(":")[2]
        if self._text is not None and name in _TEXT_OF:
            self._keep_text(name, "".join(self._text).strip())
        self._text = None
        if name == "trkpt" and self._point is not None and len(self._stack) == 4:
            self._pass_on(self._point)
            self._point = None
        elif name in ("trk", "trkseg", "gpx") and self._stack[1:2] in (["trk"], []):
            self._out.append(f"</{name}>")
        self._stack.pop()

    def _keep_text(self, name: str, text: str) -> None:
        depth = len(self._stack)
        if self._point is not None and depth == 5:
            self._point[name] = text
        elif name in ("name", "src") and self._stack[1:2] == ["trk"] and depth == 3:
            self._out.append(f"<{name}>{_escaped(text)}</{name}>")
        elif name == "time" and (depth == 2 or (depth == 3 and self._stack[1] == "metadata")):
            stamp = self._time(text, "metadata")
            if stamp and not self.places:
                self._out.append(f"<metadata><time>{stamp}</time></metadata>")

    def _place(self) -> str:
        return f"track {len(self.places)}, segment {self._segment}, point {self._number}"

    def _pass_on(self, point: dict[str, str]) -> None:
        lat, lon = self._degrees(point.get("lat"), 90.0), self._degrees(point.get("lon"), 180.0)
        if lat is None or lon is None:
            self.notes.note("bad position", self._place())
            self.set_aside[-1] += 1
            return
        stamp = self._time(point["time"], self._place()) if point.get("time") else ""
        fix = point.get("fix", "")
        ele = self._elevation(point.get("ele", ""))
        self.places[-1].append((self._segment, self._number))
        inner = (f"<ele>{ele}</ele>" if ele else "") + (f"<time>{stamp}</time>" if stamp else "")
        if fix == "none":
            inner += "<fix>none</fix>"
        self._out.append(f'<trkpt lat="{lat}" lon="{lon}">{inner}</trkpt>')

    def _degrees(self, text: str | None, most: float) -> str | None:
        """Return a number as text the library reads, None where it is none or out of range."""
        if text is None:
            return None
        text = text.strip()
        if "," in text:
            text = text.replace(",", ".", 1)
            self.notes.note("decimal comma", self._place())
        value = _number(text)
        return text if value is not None and abs(value) <= most else None

    def _elevation(self, text: str) -> str:
        if not text:
            return ""
        if _number(text) is None:
            self.notes.note("bad elevation", self._place())
            return ""
        return text

    def _time(self, text: str, place: str) -> str:
        """Return a time that the library reads, "" where it is none."""
        found = _TIME.fullmatch(text)
        if not found or not _is_day(text[:10]):
            self.notes.note("bad time", place)
            return ""
        if found.group(1) == "60":
            text = text[:17] + "59" + text[19:]
            self.notes.note("leap second", place)
        if not found.group(2):
            text += "Z"
            self.notes.note("time without zone", place)
        return text.replace(",", ".")


def _number(text: str) -> float | None:
    """Return a finite number in plain decimal notation, None for anything else."""
    if "_" in text or not text.isascii():
        return None
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


@lru_cache(maxsize=1024)
def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).year >= 1900
    except ValueError:
        return False


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
