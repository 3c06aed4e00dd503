"""What a test needs of the machine, and what happens where that is not there."""

from __future__ import annotations

import os
from typing import NoReturn

import pytest


def missing(reason: str) -> NoReturn:
    """Skip on a developer's machine, fail where everything must be there (``CI`` is set)."""
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)
