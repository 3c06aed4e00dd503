"""Reads the documents: fenced blocks, headings, tables."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
FENCE = re.compile(r"^```(?P<language>\w*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
HEADING = re.compile(r"^(?P<marks>#+) (?P<text>.+)$", re.MULTILINE)
ELLIPSIS = "…"


@dataclass(frozen=True, kw_only=True)
class Block:
    """A fenced block; ``output`` is the text block that stands next to it, or None."""

    language: str
    text: str
    line: int
    output: str | None = None


def blocks(document: Path) -> list[Block]:
    """Return the blocks of a document in order; a ``text`` block right after another is its output."""
    text = document.read_text(encoding="utf-8")
    found = list(FENCE.finditer(text))
    out = []
    for fence, after in zip_longest(found, found[1:]):
        between = text[fence.end() : after.start()].strip() if after else ""
        near = after is not None and after["language"] == "text" and not between
        line = text.count("\n", 0, fence.start()) + 2
        output = after["text"] if near and after is not None else None
        out.append(Block(language=fence["language"], text=fence["text"], line=line, output=output))
    return out


def headings(document: Path, level: int) -> list[str]:
    """Return the headings of one level in order."""
    text = FENCE.sub("", document.read_text(encoding="utf-8"))
    return [h["text"] for h in HEADING.finditer(text) if len(h["marks"]) == level]


def section(document: Path, heading: str) -> str:
    """Return the text below a heading, up to the next of its level or higher."""
    text = document.read_text(encoding="utf-8")
    start = re.search(rf"^(#+) {re.escape(heading)}$", text, re.MULTILINE)
    assert start, f"{document.name} has no heading {heading!r}"
    rest = text[start.end() :]
    end = re.search(rf"^#{{1,{len(start[1])}}} ", rest, re.MULTILINE)
    return rest[: end.start()] if end else rest


def rows(text: str) -> list[list[str]]:
    """Return the cells of the table rows in a text, heads and rules left out."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in lines]
    rules = {i for i, row in enumerate(cells) if all(set(cell) <= set("-: ") for cell in row)}
    return [row for i, row in enumerate(cells) if i not in rules and i + 1 not in rules]


def like(expected: str, found: str) -> bool:
    """Return whether an output is the expected one; a line ``…`` stands for any number of lines."""
    parts = [re.escape(part.strip("\n")) for part in re.split(rf"^{ELLIPSIS}$", expected, flags=re.MULTILINE)]
    return re.fullmatch(r"\n(.*\n)*?".join(parts), found.strip("\n")) is not None
