"""Records compared field by field."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest


def same(first: Any, second: Any, where: str = "") -> None:
    """Compare records of records, arrays by value with NaN alike."""
    if dataclasses.is_dataclass(first):
        for field in dataclasses.fields(first):
            same(getattr(first, field.name), getattr(second, field.name), f"{where}.{field.name}")
    elif isinstance(first, tuple):
        assert len(first) == len(second), where
        for number, (a, b) in enumerate(zip(first, second, strict=True)):
            same(a, b, f"{where}[{number}]")
    elif isinstance(first, np.ndarray):
        np.testing.assert_allclose(second, first, rtol=1e-12, atol=1e-9, err_msg=where)
    elif isinstance(first, float):
        assert second == pytest.approx(first, rel=1e-12, abs=1e-9, nan_ok=True), where
    else:
        assert first == second, where
