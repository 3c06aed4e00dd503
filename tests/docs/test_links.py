"""README, DEVELOPERS and docs: links lead somewhere, every document is reached, commands are what is run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from documents import DOCS, ROOT, blocks

DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]
LINK = re.compile(r"\]\(([^)\s#]+)(?:#([\w-]+))?\)")
LARGEST_PICTURE = 300_000


def anchors(document: Path) -> set[str]:
    """Return the anchors of a document's headings as GitHub makes them."""
    heads = re.findall(r"^#+ (.+)$", document.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.stem)
def test_links_lead_somewhere(document: Path) -> None:
    broken = []
    for target, anchor in LINK.findall(document.read_text(encoding="utf-8")):
        place = document.parent / target
        if target.startswith("https://"):
            continue
        if not place.exists() or (anchor and anchor not in anchors(place)):
            broken.append(f"{target}#{anchor}")
    assert broken == []


def test_every_document_can_be_reached_from_the_readme() -> None:
    reached, waiting = set(), [ROOT / "README.md"]
    while waiting:
        document = waiting.pop()
        reached.add(document)
        for target, _ in LINK.findall(document.read_text(encoding="utf-8")):
            place = (document.parent / target).resolve()
            if place.suffix == ".md" and place.exists() and place not in reached:
                waiting.append(place)
    assert [d.name for d in DOCUMENTS if d not in reached] == []


def test_pictures_are_shown_and_small() -> None:
    text = "".join(document.read_text(encoding="utf-8") for document in DOCUMENTS)
    pictures = sorted((DOCS / "pictures").glob("*.png"))
    assert pictures
    assert [p.name for p in pictures if f"pictures/{p.name}" not in text] == []
    assert [p.name for p in pictures if p.stat().st_size > LARGEST_PICTURE] == []


def test_the_readme_has_one_command_for_the_demo_and_one_for_the_tests() -> None:
    commands = [block.text.strip() for block in blocks(ROOT / "README.md") if block.language == "sh"]
    assert len(commands) == 2
    assert all("\n" not in command and command.startswith("python3 -m venv") for command in commands)
    assert "trackspread analyse" in commands[0]
    assert commands[1].endswith("-m pytest")
