"""docs/reference.md is what the docstrings say, and every name of the face has one that says enough."""

from __future__ import annotations

import inspect

import pytest
from documents import DOCS
from make_reference import METHODS, reference

import trackspread as ts

FUNCTIONS = ("analyse", "read", "load", "write_report")


def test_the_reference_is_that_of_the_code() -> None:
    same = (DOCS / "reference.md").read_text(encoding="utf-8") == reference()
    assert same, "run tests/docs/make_reference.py"


@pytest.mark.parametrize("name", [*FUNCTIONS, *(name for name, _ in METHODS)])
def test_functions_tell_parameters_returns_raises_and_an_example(name: str) -> None:
    function = getattr(ts, name) if name in FUNCTIONS else dict(METHODS)[name]
    text = inspect.getdoc(function) or ""
    for head in ("Parameters", "Returns", "Examples"):
        assert f"\n{head}\n{'-' * len(head)}\n" in text, f"{name} has no {head}"
    for parameter in list(inspect.signature(function).parameters)[1 if name not in FUNCTIONS else 0 :]:
        assert parameter in text
