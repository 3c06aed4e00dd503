"""docs/methods.md against the code: fixed numbers, verdict words, sources."""

from __future__ import annotations

import importlib
import re
from typing import get_args

from documents import DOCS, rows, section

from trackspread.model import Cause, Verdict

METHODS = DOCS / "methods.md"


def test_fixed_numbers_are_those_of_the_code() -> None:
    table = rows(section(METHODS, "Fixed numbers"))
    assert len(table) > 20
    for name, value, _ in table:
        module, constant = name.strip("`").rsplit(".", 1)
        found = getattr(importlib.import_module(f"trackspread.{module}"), constant)
        assert float(value.replace(",", "")) == found, f"{name}: the code has {found}"


def test_every_verdict_and_cause_is_explained() -> None:
    verdicts = {row[0].strip("`") for row in rows(section(METHODS, "Verdicts"))}
    causes = {row[0].strip("`") for row in rows(section(METHODS, "Stretches"))}
    assert verdicts == set(get_args(Verdict))
    assert causes == set(get_args(Cause))


def test_every_work_cited_stands_among_the_sources_and_every_source_is_cited() -> None:
    text = METHODS.read_text(encoding="utf-8")
    sources = section(METHODS, "Sources")
    body = text.replace(sources, "")
    cited = set(re.findall(r"\b([A-Z]\w+)(?: & [A-Z]\w+| et al\.)? \(?(\d{4})\b", body))
    listed = set(re.findall(r"^- ([A-Z]\w+).*?\((\d{4})\)", sources, re.MULTILINE))
    assert cited == listed
