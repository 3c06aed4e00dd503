"""Every code has its sentence, and nobody but the words reads one."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import trackspread
from reasons import EXAMPLES
from trackspread.model import NOTHING, Reason
from trackspread.results.schema.reasons import Why
from trackspread.results.words.reasons import SENTENCES, said, told_codes

ROOT = Path(trackspread.__file__).parent
WORDS = ROOT / "results" / "words"
CODES_BY_NAME = ("why", "start_reason")
"""Arguments that hold a code and no reason: `Field(why=…)`, `Trace(start_reason=…)`."""
TEXTS_OF_REASONS = ("reason", "why", "sentence", "reasons", "text", "note")
"""Names of documents and records under which a sentence may stand."""
READS = ("startswith", "endswith", "removeprefix", "removesuffix", "partition", "rpartition", "split", "find")


def trees() -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted(ROOT.rglob("*.py")):
        yield path, ast.parse(path.read_text("utf-8"))


def constants(tree: ast.Module) -> dict[str, str]:
    """Return the texts that a module names: ``LATER_LAP = "later_lap"``."""
    return {
        node.targets[0].id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }


def codes_used() -> dict[str, str]:
    """Return every code that the source gives a reason, with the module that does."""
    found: dict[str, str] = {}
    for path, tree in trees():
        named = constants(tree)
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call):
                continue
            given = [kw.value for kw in node.keywords if kw.arg in CODES_BY_NAME]
            if ast.unparse(node.func).split(".")[-1] == "Reason" or ast.unparse(node.func).endswith(
                "Reason.of"
            ):
                given += node.args[:1]
            for part in (leaf for value in given for leaf in leaves(value)):
                if isinstance(part, ast.Constant) and isinstance(part.value, str) and part.value:
                    found[part.value] = path.name
                elif isinstance(part, ast.Name) and part.id in named:
                    found[named[part.id]] = path.name
    return found


def leaves(value: ast.expr) -> list[ast.expr]:
    """Return what an argument may be: both sides of a condition, else the argument itself."""
    return [*leaves(value.body), *leaves(value.orelse)] if isinstance(value, ast.IfExp) else [value]


def test_every_code_that_the_source_gives_has_its_sentence() -> None:
    used = codes_used()
    assert len(used) > 50
    assert {code: place for code, place in used.items() if code not in SENTENCES} == {}


def test_no_sentence_is_kept_that_nobody_needs() -> None:
    source = "".join(p.read_text("utf-8") for p, _ in trees() if WORDS not in p.parents)
    assert [code for code in SENTENCES if f'"{code}"' not in source] == []


@pytest.mark.parametrize("reason", EXAMPLES, ids=lambda reason: reason.code)
def test_a_sentence_is_plain_text_and_comes_back_from_full_figures(reason: Reason) -> None:
    text = said(reason)
    assert text
    assert text.isprintable()
    assert "{" not in text
    assert "nan" not in text.lower().split()
    assert Why().read(Why().written(reason, full=True)) == reason


def test_nobody_but_the_words_reads_a_sentence() -> None:
    """No method that takes a text apart, and no ``in``, is applied to a reason, sentence or note."""
    found = [
        f"{path.relative_to(ROOT)}, line {line}"
        for path, tree in trees()
        if WORDS not in path.parents
        for line in readings(tree)
    ]
    assert found == []


def readings(tree: ast.AST) -> Iterator[int]:
    """Yield the lines on which a module reads a sentence."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in (*READS, "replace") and is_sentence(node.func.value):
                yield node.lineno
        elif isinstance(node, ast.Compare):
            sides = zip([node.left, *node.comparators], [*node.comparators, node.left], strict=True)
            for side, other in sides:
                text = isinstance(other, ast.Constant) and isinstance(other.value, str) and other.value
                if is_sentence(side) and text:
                    yield node.lineno


def is_sentence(node: ast.AST) -> bool:
    """Return whether an expression is a text of a reason: ``x.reason``, ``d["why"]``, ``said(…)``."""
    if isinstance(node, ast.Call):
        name = ast.unparse(node.func)
        if name == "said":
            return True
        if name.endswith(".get") and node.args:
            return names_one(node.args[0])
        return any(is_sentence(part) for part in node.args) or (
            isinstance(node.func, ast.Attribute) and is_sentence(node.func.value)
        )
    if isinstance(node, ast.Subscript):
        return names_one(node.slice)
    return isinstance(node, ast.Attribute) and node.attr in TEXTS_OF_REASONS[:4]


def names_one(node: ast.AST) -> bool:
    if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
        return False
    return node.value in TEXTS_OF_REASONS or node.value.endswith("_reason")


@pytest.mark.parametrize(
    ("source", "reads"),
    [
        ('"set between" in pair["clock_offset"].get("reason", "")', True),
        ('clock.pooled.reason.replace("a is ahead", "x")', True),
        ('fix.reason.rpartition("withheld")', True),
        ('printable(entry.why, 600).split("; ")', True),
        ('reason.code == "clocks_set"', False),
        ('pair["clock_offset"].get("reason_code") == CODE', False),
    ],
)
def test_the_test_finds_what_once_stood_there(source: str, reads: bool) -> None:
    assert bool(list(readings(ast.parse(source)))) == reads


def test_reasons_beside_each_other_are_joined_by_what_ends_the_first() -> None:
    assert said(Reason("no_start") + Reason("withheld_start")) == (
        "no start time was noted; withheld: it would tell where the route starts"
    )
    assert said(Reason.of("pair_not_apart", a="Alder", b="Birch", rides=1) + Reason("pair_one_ride")) == (
        "After one shared ride, no detectable difference between Alder and Birch. "
        "Carry them together on another ride."
    )
    assert (said(NOTHING), told_codes(NOTHING)) == ("", "")
    assert told_codes(Reason("no_start") + Reason("withheld_start")) == "no_start withheld_start"


def test_a_reason_within_another_is_said_there() -> None:
    inner = Reason.of("too_short", length_m=80.0, least_m=100.0)
    assert said(Reason.of("dissolved", because=inner)) == (
        "no other trace runs this way, but for traces that make no route themselves: "
        "the way that its traces share is 80 m long; a route needs 100 m"
    )


def test_values_are_never_a_template() -> None:
    assert (
        said(Reason.of("same_recording", of="{0.__class__}{x}")) == "the same recording as {0.__class__}{x}"
    )


@pytest.mark.parametrize("broken", [[["no_such_code", {}]], [["too_small", {}]], [["too_small", {"x": 1}]]])
def test_full_figures_that_make_no_sentence_are_refused(broken: list[object]) -> None:
    with pytest.raises((KeyError, TypeError, ValueError)):
        Why().read(broken)
