"""Every bash and python block of the documents runs, and prints what the document says it prints."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from documents import DOCS, blocks, like
from running import RUNNABLE, run_blocks

DOCUMENTS = sorted(d for d in DOCS.glob("*.md") if any(b.language in RUNNABLE for b in blocks(d)))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.stem)
def test_the_blocks_of_a_document_run(document: Path, tmp_path: Path) -> None:
    other = []
    for block, found in run_blocks(document, tmp_path / "here"):
        if block.output is not None and not like(block.output, found):
            other.append(f"line {block.line} prints:\n{found}")
    assert other == [], f"{document.name} says otherwise (tests/docs/fill_outputs.py puts it right)"


def test_no_document_shows_a_command_in_a_block_that_nothing_runs() -> None:
    hidden = [
        f"{document.name}, line {block.line}"
        for document in DOCS.glob("*.md")
        for block in blocks(document)
        if block.language not in RUNNABLE and re.search(r"^trackspread ", block.text, re.MULTILINE)
    ]
    assert hidden == []


def test_outputs_are_compared() -> None:
    assert like("a\nb\n", "a\nb\n")
    assert like("a\n…\nd\n", "a\nb\nc\nd\n")
    assert not like("a\n…\nd\n", "a\nb\nc\n")
    assert not like("a.\n", "ab\n")
