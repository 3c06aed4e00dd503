"""docs/how-it-works.md has the phases of the code, in the order in which the code calls them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from documents import DOCS, ROOT, headings

SRC = ROOT / "src" / "trackspread"
MODULES = (
    "api.py",
    "pipeline/analyse.py",
    "pipeline/route.py",
    "pipeline/figures.py",
    "pipeline/remembered.py",
    "rides/sorting.py",
)
NAMED = re.compile(r"`(\w+)`")


def called(name: str, functions: dict[str, ast.FunctionDef]) -> Iterator[str]:
    """Give the names of all functions called, in order of call, arguments before the call itself."""

    def walk(node: ast.AST, open_calls: tuple[str, ...]) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            yield from walk(child, open_calls)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            target = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            if target == "partial" and isinstance(node.args[0], ast.Name):
                target = node.args[0].id  # called a little later, where it is not remembered
            yield target
            if target in functions and target not in open_calls:
                yield from walk(functions[target], (*open_calls, target))

    yield from walk(functions[name], (name,))


def functions_of(files: list[Path]) -> dict[str, ast.FunctionDef]:
    """Return the functions defined at the top of the given modules."""
    trees = [ast.parse(file.read_text(encoding="utf-8")) for file in files]
    return {node.name: node for tree in trees for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_headings_follow_the_calls() -> None:
    face = functions_of([SRC / MODULES[0]])
    functions = functions_of([SRC / module for module in MODULES[1:]])
    functions = face | functions | {"the face": face["analyse"], "phases": functions["analyse"]}
    calls = [*called("the face", functions), *called("write_report", functions)]
    phases = [name for heading in headings(DOCS / "how-it-works.md", 2) for name in NAMED.findall(heading)]
    assert len(phases) >= 10
    missing = [name for name in phases if name not in calls]
    assert missing == [], f"the code never calls {missing}"
    places = [calls.index(name) for name in phases]
    assert places == sorted(places), "another order than the code calls them in"


def test_every_public_step_that_the_pipeline_imports_is_told_of() -> None:
    told = set(NAMED.findall((DOCS / "how-it-works.md").read_text(encoding="utf-8")))
    steps = set()
    for module in MODULES[1:3]:
        for node in ast.parse((SRC / module).read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ImportFrom) and re.search(
                r"\.(statistics|pipeline)\.", node.module or ""
            ):
                steps |= {alias.name for alias in node.names if alias.name.islower()}
    assert steps - told == set()
