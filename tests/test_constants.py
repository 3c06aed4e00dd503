"""Numbers with a name: one name, one value, wherever it stands."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

import trackspread

ROOT = Path(trackspread.__file__).parent


def number(node: ast.AST) -> float | None:
    """Return the value of a number or of a calculation with numbers alone."""
    if any(
        not isinstance(part, ast.Constant | ast.BinOp | ast.UnaryOp | ast.operator | ast.unaryop)
        for part in ast.walk(node)
    ):
        return None
    value = eval(compile(ast.Expression(node), "", "eval"))
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def constants(tree: ast.Module) -> Iterator[tuple[str, float]]:
    """Yield the names and values of the numbers that a module names; private ones are its own affair."""
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        for target in targets:
            value = getattr(node, "value", None)
            pairs = [(target, value)]
            if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
                pairs = list(zip(target.elts, value.elts, strict=True))
            for name, part in pairs:
                if (
                    isinstance(name, ast.Name)
                    and name.id.isupper()
                    and name.id[0] != "_"
                    and part is not None
                ):
                    found = number(part)
                    if found is not None:
                        yield name.id, found


def test_no_two_numbers_of_one_name_differ() -> None:
    found: dict[str, dict[float, list[str]]] = defaultdict(lambda: defaultdict(list))
    for path in sorted(ROOT.rglob("*.py")):
        for name, value in constants(ast.parse(path.read_text("utf-8"))):
            found[name][value].append(path.relative_to(ROOT).as_posix())
    assert len(found) > 200
    assert {name: dict(values) for name, values in found.items() if len(values) > 1} == {}


def bare(text: str) -> list[str]:
    """Return the numbers of a module that have neither a comment on their line nor a docstring below them."""
    body, lines = ast.parse(text).body, text.splitlines()
    return [
        lines[node.lineno - 1]
        for node, after in zip(body, [*body[1:], None], strict=True)
        if list(constants(ast.Module([node], [])))
        and "#" not in lines[node.end_lineno - 1 if node.end_lineno else node.lineno - 1]
        and not (isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant))
    ]


@pytest.mark.parametrize(
    "room", sorted({path.parent for path in ROOT.rglob("*.py")}), ids=lambda path: path.name
)
def test_a_number_has_its_unit_or_its_source_beside_it(room: Path) -> None:
    assert {path.name: found for path in room.glob("*.py") if (found := bare(path.read_text("utf-8")))} == {}


def test_the_test_finds_bare_numbers() -> None:
    assert bare('A = 1\nB = 2  # m\nC = 3\n"""m"""\nD, E = 4, 5\n') == ["A = 1", "D, E = 4, 5"]


@pytest.mark.parametrize(
    ("source", "wanted"),
    [
        ("A = 3", [("A", 3.0)]),
        ("A, B = 2**20, -0.5", [("A", 2.0**20), ("B", -0.5)]),
        ("A: float = 60 * 60.0", [("A", 3600.0)]),
        ("a = 3; _A = 3; A = 'x'; B = f(3); C = True", []),
    ],
)
def test_the_test_finds_numbers(source: str, wanted: list[tuple[str, float]]) -> None:
    assert list(constants(ast.parse(source))) == wanted
