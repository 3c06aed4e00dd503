"""Every bash and python block of the documents runs, and prints what the document says it prints."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from documents import DOCS, ROOT, blocks, like
from running import RUNNABLE, run_blocks

LONG = {"cli", "film", "notebook", "privacy", "python-api", "tutorial"}
"""These run the demo's analysis several times."""
DOCUMENTS = sorted(d for d in DOCS.glob("*.md") if any(b.language in RUNNABLE for b in blocks(d)))


@pytest.mark.parametrize(
    "document",
    [pytest.param(d, marks=[pytest.mark.slow] * (d.stem in LONG), id=d.stem) for d in DOCUMENTS],
)
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


NOT_RUN = {
    (
        "README.md",
        "python3 -m venv .venv && .venv/bin/pip install '.[film]' ",
    ): "run word for word by .ci/run",
    (
        "README.md",
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test]'",
    ): "run word for word by .ci/run",
    (
        "DEVELOPERS.md",
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test,lint]'",
    ): "as in the README, with lint",
    ("DEVELOPERS.md", "cli · web "): "a drawing",
    (
        "testing.md",
        "python -m venv --system-site-packages mutation",
    ): "twenty minutes, in an environment of its own",
    ("validation.md", "python tests/validation/validate.py"): "hours; its words are checked below",
    ("validation.md", "python tests/validation/coverage_of_intervals.py"): "a quarter of an hour",
}


def test_every_block_is_run_or_is_listed_with_the_reason() -> None:
    """``text`` blocks that stand alone show a file or a drawing; after another block they are its output."""
    documents = [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        ROOT / "demo_routes" / "README.md",
        *DOCS.glob("*.md"),
    ]
    left = {
        (document.name, block.text)
        for document in documents
        for block in blocks(document)
        if block.language not in {*RUNNABLE, "text"} or document.parent != DOCS
    }
    unlisted = [b for b in left if not any(b[0] == n and b[1].startswith(t) for n, t in NOT_RUN)]
    assert unlisted == []
    gone = [key for key in NOT_RUN if not any(b[0] == key[0] and b[1].startswith(key[1]) for b in left)]
    assert gone == []


def test_the_studies_that_the_validation_names_are_there() -> None:
    (block,) = [b for b in blocks(DOCS / "validation.md") if "validate.py" in b.text]
    names = set(re.findall(r"def (\w+)\(\n?\s*seeds: range", _sources("studies.py", "robustness.py")))
    for line in block.text.strip().splitlines():
        script, option, seeds, *studies = line.split()[1:]
        assert (ROOT / script).is_file()
        assert (option, seeds.isdigit()) == ("--seeds", True)
        assert studies
        assert set(studies) <= names


def _sources(*files: str) -> str:
    return "".join((ROOT / "tests" / "validation" / file).read_text(encoding="utf-8") for file in files)


def test_outputs_are_compared() -> None:
    assert like("a\nb\n", "a\nb\n")
    assert like("a\n…\nd\n", "a\nb\nc\nd\n")
    assert not like("a\n…\nd\n", "a\nb\nc\n")
    assert not like("a.\n", "ab\n")
