"""What can be seen of a line in a chart."""

from __future__ import annotations

import numpy as np

from trackspread import model as m


def seen(x: m.Floats, y: m.Floats, columns: int) -> tuple[m.Floats, m.Floats]:
    """Return what can be seen of a line in so many columns of pixels: lowest and highest point of each."""
    block = -(-len(x) // columns)
    if block <= 2:
        return x, y
    whole = len(x) - len(x) % block
    parts = y[:whole].reshape(-1, block)
    known = np.isfinite(parts)
    ends = np.where(known, parts, np.inf).argmin(axis=1), np.where(known, parts, -np.inf).argmax(axis=1)
    at = np.sort(np.stack(ends, axis=1) + block * np.arange(len(parts))[:, None], axis=1).ravel()
    at = np.concatenate([at, np.arange(whole, len(x))])
    return x[at], y[at]
