"""What the quick tests leave out: `pytest -m "not slow"` runs the first of several alike, the whole suite all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest


def first_quick(cases: Sequence[Any]) -> list[Any]:
    """Return the cases of a test, all but the first marked slow; a tuple is one set of arguments."""
    head, *rest = cases
    slow = [
        pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.slow) for case in rest
    ]
    return [head, *slow]
