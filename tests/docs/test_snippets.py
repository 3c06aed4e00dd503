"""Every bash and python block of the documents runs, and prints what the document says it prints."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from documents import DOCS, ROOT, blocks, like

RUNNABLE = {"bash", "python"}
DOCUMENTS = sorted(d for d in DOCS.glob("*.md") if any(b.language in RUNNABLE for b in blocks(d)))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.stem)
def test_the_blocks_of_a_document_run(
    document: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "demo_routes", tmp_path / "demo_routes")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("PATH", os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]))
    names: dict[str, Any] = {"__name__": "__main__"}
    for block in blocks(document):
        place = f"{document.name}, line {block.line}"
        if block.language == "bash":
            found = _bash(block.text, place)
        elif block.language == "python":
            found = _python(block.text, place, names)
        else:
            continue
        if block.output is not None:
            assert like(block.output, found), f"{place}: another output than the document says:\n{found}"


def _bash(text: str, place: str) -> str:
    command = ["bash", "-euo", "pipefail", "-c", text]
    done = subprocess.run(
        command, check=False, capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=300
    )
    assert done.returncode == 0, f"{place}: exit code {done.returncode}\n{done.stdout}{done.stderr}"
    return done.stdout


def _python(text: str, place: str, names: dict[str, Any]) -> str:
    with contextlib.redirect_stdout(io.StringIO()) as printed:
        exec(compile(text, place, "exec"), names)
    return printed.getvalue()


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
