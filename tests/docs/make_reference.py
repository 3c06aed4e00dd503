"""Write docs/reference.md from the docstrings of the names that a notebook uses.

Usage: python tests/docs/make_reference.py
"""

from __future__ import annotations

import inspect
from typing import Any

from documents import DOCS

import trackspread as ts
from trackspread import model as m

METHODS = (
    ("Analysis.to_frame", m.Analysis.to_frame),
    ("Analysis.to_geodataframe", m.Analysis.to_geodataframe),
    ("RouteResult.plot", m.RouteResult.plot),
)
RECORDS = tuple(getattr(m, name) for name in m.__all__ if inspect.isclass(getattr(m, name)))
HEAD = """# Reference

Made from the docstrings by `tests/docs/make_reference.py`; [notebook.md](notebook.md) shows the same at work. Shapes: `T`
traces of a route, `S` stations of its centreline, `P` points of one trace.
"""


def reference() -> str:
    """Return the whole page."""
    functions = [(name, getattr(ts, name)) for name in ("analyse", "read", "load", "write_report")]
    parts = [HEAD, "## Functions\n", *(_function(f"trackspread.{n}", f) for n, f in functions)]
    parts += ["## Methods\n", *(_function(name, method) for name, method in METHODS)]
    parts += ["## Thresholds\n", _record(ts.Options), "## Records\n", *map(_record, RECORDS)]
    errors = [getattr(ts, name) for name in ts.__all__ if inspect.isclass(getattr(ts, name))]
    told = [f"- `{e.__name__}`: {_first(e)}" for e in errors if issubclass(e, Exception)]
    return "\n".join([*parts, "## Errors\n", *told, ""])


def _function(name: str, function: Any) -> str:
    signature = str(inspect.signature(function)).replace("self, ", "").replace("self", "")
    return f"### `{name}`\n\n```text\n{name}{signature}\n```\n\n{_text(function)}\n"


def _record(record: Any) -> str:
    held = ", ".join(f"`{name}`" for name in getattr(record, "__dataclass_fields__", ()))
    return f"### `{record.__name__}`\n\n{_text(record)}\n\nFields: {held}.\n"


def _first(thing: Any) -> str:
    return (inspect.getdoc(thing) or "").split("\n\n")[0].replace("\n", " ")


def _text(thing: Any) -> str:
    """Return a docstring as Markdown: what it says first as text, the rest as it stands."""
    first, _, rest = (inspect.getdoc(thing) or "").partition("\n\n")
    return f"{first}\n\n```text\n{rest}\n```" if rest else first


if __name__ == "__main__":
    (DOCS / "reference.md").write_text(reference(), encoding="utf-8")
