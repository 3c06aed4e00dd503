"""numpydoc: the section Parameters names what the signature names, in every public function."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import trackspread

ROOT = Path(trackspread.__file__).parent


CALLED_BY_TOOLS = {"schema_text"}
"""docs/result.schema.json is made with it."""


def functions() -> Iterator[tuple[str, ast.FunctionDef]]:
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not (node.name.startswith("_") or is_command(node)):
                yield name, node


def is_command(node: ast.FunctionDef) -> bool:
    """The text of a command is what its ``--help`` prints."""
    return any("click." in ast.unparse(decorator) for decorator in node.decorator_list)


def arguments(node: ast.FunctionDef) -> list[str]:
    given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    extra = [part for part in (node.args.vararg, node.args.kwarg) if part]
    return [part.arg for part in (*given, *extra)]


def listed(node: ast.FunctionDef) -> list[str]:
    """Return the names of the section Parameters."""
    text = inspect.cleandoc(ast.get_docstring(node) or "")
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-{3,}$|\Z)", text, re.MULTILINE | re.DOTALL)
    heads = [line for line in (section[1] if section else "").splitlines() if line and line[0] != " "]
    return [name.strip().lstrip("*") for head in heads for name in head.split(" : ")[0].split(",")]


FUNCTIONS = list(functions())


@pytest.mark.parametrize(("name", "node"), FUNCTIONS, ids=[f"{name}:{node.name}" for name, node in FUNCTIONS])
def test_parameters_are_those_of_the_signature(name: str, node: ast.FunctionDef) -> None:
    names, known = listed(node), arguments(node)
    assert sorted(set(names)) == sorted(names), "named twice"
    assert not set(names) - set(known), f"{name}, line {node.lineno}: no such argument"
    assert not set(known) - set(names), f"{name}, line {node.lineno}: not told"


@pytest.mark.parametrize(
    ("name", "node"),
    [
        (name, node)
        for name, node in FUNCTIONS
        if node.returns and ast.unparse(node.returns) not in ("None", "Iterator[None]")
    ],
    ids=lambda part: part if isinstance(part, str) else part.name,
)
def test_what_comes_back_has_its_section(name: str, node: ast.FunctionDef) -> None:
    assert re.search(
        r"^(Returns|Yields)\n-+$", inspect.cleandoc(ast.get_docstring(node) or ""), re.MULTILINE
    ), f"{name}, line {node.lineno}"


@pytest.mark.parametrize("room", ["cli", "film", "publish", "report", "results", "web"])
def test_what_no_other_module_calls_begins_with_an_underscore(room: str) -> None:
    words = {path: set(re.findall(r"\w+", path.read_text("utf-8"))) for path in ROOT.rglob("*.py")}
    alone = {
        node.name
        for name, node in FUNCTIONS
        if name.startswith(f"{room}/")
        and not any(node.name in found for path, found in words.items() if path != ROOT / name)
    }
    assert alone <= CALLED_BY_TOOLS


def test_enough_is_held() -> None:
    assert sum(bool(listed(node)) for _, node in FUNCTIONS) > 170


def test_the_test_finds_a_name_that_is_wrong() -> None:
    (node,) = ast.parse(
        'def f(a, b, *, c=1):\n    """Do.\n\n    Parameters\n    ----------\n    a, d : int\n        Two.\n    """\n'
    ).body
    assert isinstance(node, ast.FunctionDef)
    assert (listed(node), arguments(node)) == (["a", "d"], ["a", "b", "c"])
