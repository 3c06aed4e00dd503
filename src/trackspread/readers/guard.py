"""A guard in front of every XML reader: hostile or broken text in, elements of bounded depth out.

No document types and no entities (by defusedxml), bounded depth and count; text in any common encoding;
what is not well-formed is mended where the remedy is plain, and else read up to the break.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, NoReturn, Protocol, TypeVar
from xml.etree.ElementTree import Element, ParseError, XMLPullParser
from xml.parsers.expat import ErrorString

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.readers.limits import check_points
from trackspread.readers.notes import Notes

DEEPEST = 40  # levels of elements, far above those of the standards
MOST_ELEMENTS = 20_000_000  # elements of a file, bounds time
MOST_HELD = 1_000_000
"""Elements inside one element that a reader waits for to its end: a point holds a handful."""
_CHUNK = 2**18  # characters fed to the parser at once
_DECLARED = re.compile(rb"""\s*<\?xml[^>]{0,200}?encoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["']""")
_KNOWN = re.compile(
    r"utf-?8|(us-)?ascii|iso-?8859-?\d+|latin-?\d|(windows-?|cp-?)\d+|koi8-[ru]|gbk|gb2312|gb18030|big5|"
    r"shift[_-]jis|euc-(jp|kr)",
    re.IGNORECASE,
)
_ILLEGAL = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_AMPERSAND = re.compile(r"&(?!(?:amp|lt|gt|quot|apos);)")
_TAG_PREFIX = re.compile(r"(</?)[\w.-]+:(?=[\w.-])")
_ATTRIBUTE_PREFIX = re.compile(r"(\s)[\w.-]+:([\w.-]+\s*=)")


Handler = Callable[[Element, int], None]


class Reader(Protocol):
    """What an XML reader tells the guard: what to call where an element starts or ends, by local name.

    A handler gets the element and its depth (1 for the outermost). ``notes`` gathers findings.
    """

    starts: Mapping[str, Handler]
    ends: Mapping[str, Handler]
    notes: Notes

    def has_points(self) -> bool:
        """Whether anything was read that is worth keeping."""


R = TypeVar("R", bound=Reader)


def read_xml(file: str, data: bytes, root: str, make: Callable[[], R]) -> R:
    """Return a reader made by ``make`` that has seen every element of the file.

    Parameters
    ----------
    file : str
        The file as the user named it.
    data : bytes
        What it holds.
    root : str
        Name of the outermost element.
    make : callable
        What takes the points of the elements.

    Returns
    -------
    object
        As ``make`` gives it.

    Raises
    ------
    UnreadableFile
        Other outermost element than ``root``, a document type, too deep or too many elements, or broken
        before the first point.
    """
    notes = Notes()
    text = _without_declaration(decoded(data, notes).lstrip("\ufeff"))
    reader, broken = _attempt(file, text, root, make)
    if broken and (mended := mend(text)) != text:
        first = broken
        reader, broken = _attempt(file, mended, root, make)
        if broken is None or reader.has_points():
            reader.notes.note("mended", _place(first))
    if broken and not reader.has_points():
        _refuse(file, broken)
    if broken:
        reader.notes.note("broken off", _place(broken))
    reader.notes.add(notes)
    return reader


def _without_declaration(text: str) -> str:
    """Return XML from its first tag on; the parser gets text, whatever encoding that declares."""
    text = text.lstrip()
    if not text.startswith("<?xml"):
        return text
    end = text.find("?>")
    return text if end < 0 else text[end + 2 :]


def _attempt(file: str, text: str, root: str, make: Callable[[], R]) -> tuple[R, ParseError | None]:
    reader = make()
    try:
        _check_outermost(file, text, root)
        _walk(file, text, reader)
    except ParseError as error:
        return reader, error
    return reader, None


class _Outermost(Exception):
    """The outermost element was reached; carries its local name."""


class _UntilOutermost:
    def start(self, tag: str, attributes: object) -> NoReturn:
        raise _Outermost(_local(tag))


def _check_outermost(file: str, text: str, root: str) -> None:
    """Refuse document types, which can stand before the outermost element only, and other documents."""
    parser: Any = DefusedXMLParser(target=_UntilOutermost(), forbid_dtd=True)
    try:
        for place in range(0, len(text), _CHUNK):
            parser.feed(text[place : place + _CHUNK])
        parser.close()
    except _Outermost as found:
        name = str(found)
    except DefusedXmlException as error:
        name = str(getattr(error, "name", ""))
        if name.lower() != "html":
            rule, remedy = (
                "document types and entities are not allowed",
                "export the recording again",
            )
            raise UnreadableFile(Problem(file=file, value=name, rule=rule, remedy=remedy)) from None
    if name.lower() == "html":
        rule, remedy = (
            "this is a web page and no trace",
            "open it: it may say why there is no download",
        )
        raise UnreadableFile(Problem(file=file, rule=rule, remedy=remedy))
    if name != root:
        rule, remedy = f"the outermost element must be {root}", "export the recording as GPX"
        raise UnreadableFile(Problem(file=file, value=name, rule=rule, remedy=remedy))


class _LocalNames(dict[str, str]):
    def __missing__(self, tag: str) -> str:
        name = self[tag] = _local(tag)
        return name


def _local(tag: str) -> str:
    return tag.rpartition("}")[2].rpartition(":")[2]


class _Held:
    """Which elements stay: those that a reader waits for from start to end (a point, a name), whole.

    Of all others the children are let go as soon as they end, so that idle elements take no memory.
    """

    def __init__(self, file: str, reader: Reader) -> None:
        self.file = file
        self.whole = frozenset(reader.ends) - frozenset(reader.starts)
        self.open: list[Element] = []
        self.waiting = self.inside = self.points = 0

    def start(self, element: Element, name: str) -> None:
        if self.waiting:
            self.inside += 1
            if self.inside > MOST_HELD:
                rule = f"at most {MOST_HELD} elements inside one are allowed"
                raise UnreadableFile(Problem(file=self.file, place=name, rule=rule))
        self.open.append(element)
        self.waiting += name in self.whole

    def end(self, name: str) -> None:
        self.open.pop()
        self.waiting -= name in self.whole
        if self.waiting:
            return
        if self.inside:
            self.inside = 0
            self.points += 1
            check_points(self.file, self.points)
        if self.open and len(self.open[-1]):
            del self.open[-1][:]


def _walk(file: str, text: str, reader: Reader) -> None:
    """Call the reader's handlers for all elements, in order; raises ``ParseError`` at a break."""
    parser: Any = XMLPullParser(("start", "end"))
    names, starts, ends = _LocalNames(), reader.starts, reader.ends
    held = _Held(file, reader)
    count = 0
    for place in range(0, len(text) + _CHUNK, _CHUNK):
        if place < len(text):
            parser.feed(text[place : place + _CHUNK])
        else:
            parser.close()
        for event, element in parser.read_events():
            name = names[element.tag]
            if event == "start":
                count += 1
                held.start(element, name)
                depth = len(held.open)
                if depth > DEEPEST or count > MOST_ELEMENTS:
                    rule = f"at most {DEEPEST} levels and {MOST_ELEMENTS} elements are allowed"
                    raise UnreadableFile(Problem(file=file, place=f"element {count}", rule=rule))
                if name in starts:
                    starts[name](element, depth)
            else:
                if name in ends:
                    ends[name](element, len(held.open))
                held.end(name)


def _place(error: ParseError) -> str:
    return f"line {error.position[0]} ({ErrorString(error.code)})"


def _refuse(file: str, error: ParseError) -> NoReturn:
    place, value = f"line {error.position[0]}", ErrorString(error.code)
    rule, remedy = "this is not well-formed XML", "export the recording again"
    raise UnreadableFile(Problem(file=file, place=place, value=value, rule=rule, remedy=remedy))


def decoded(data: bytes, notes: Notes) -> str:
    """Return text by byte order mark, declaration, UTF-8, and at last Latin-1.

    Parameters
    ----------
    data : bytes
        A text file.
    notes : Notes
        Where findings are counted.

    Returns
    -------
    str
    """
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(name, "replace")
    if data[1:2] == b"\x00" and data[:1] != b"\x00":
        return data.decode("utf-16-le", "replace")
    if data[:1] == b"\x00" and data[1:2] != b"\x00":
        return data.decode("utf-16-be", "replace")
    declared = _DECLARED.match(data[:300])
    said = declared.group(1).decode() if declared else ""
    for name in (said if _KNOWN.fullmatch(said) else "utf-8", "utf-8"):
        try:
            return data.decode(name)
        except (LookupError, UnicodeDecodeError):
            continue
    notes.note("encoding", "whole file")
    return data.decode("latin-1")


def mend(text: str) -> str:
    """Return XML without characters that it may not hold, bare ampersands and prefixes.

    Names such as ``Bread & Butter`` and prefixes that are declared nowhere are common in exported traces.

    Parameters
    ----------
    text : str
        The document.

    Returns
    -------
    str
    """
    text = _AMPERSAND.sub("&amp;", _ILLEGAL.sub("", text))
    return _ATTRIBUTE_PREFIX.sub(r"\1\2", _TAG_PREFIX.sub(r"\1", text))


def one_line(element: Element) -> str:
    """Return the text of an element, fit to be shown.

    Parameters
    ----------
    element : Element
        The XML element.

    Returns
    -------
    str
    """
    return printable(" ".join((element.text or "").split()), 200)
