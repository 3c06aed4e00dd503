"""Parts of charts that need no plotting: what can be seen of a line, and the looks of the finished SVG."""

from __future__ import annotations

import re

import numpy as np

from trackspread import model as m
from trackspread.report import style


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


def themed(svg: str) -> str:
    """Return the SVG with the colours and fonts of the sheet, and paths to tenths of a pixel."""
    pairs = {**style.COLOURS}
    pairs |= {f"receiver-{i}": pair for i, pair in enumerate(style.RECEIVER_COLOURS)}
    names = {light: name for name, (light, _) in pairs.items()}
    svg = re.sub(r"#[0-9a-f]{6}\b", lambda hit: f"var(--{names[hit[0]]})" if hit[0] in names else hit[0], svg)
    svg = re.sub(r'(?<=\bd=")[^"]*', lambda hit: re.sub(r"(?<=\.\d)\d+", "", hit[0]), svg)
    svg = re.sub(
        r"(font: [\d.]+px |font-family: )[^;\"]+", lambda hit: hit[1] + style.SANS.replace('"', "'"), svg
    )
    rules = [";".join(f"--{name}:{pair[side]}" for name, pair in pairs.items()) for side in (0, 1)]
    sheet = f":root{{{rules[0]}}}@media screen and (prefers-color-scheme:dark){{:root{{{rules[1]}}}}}"
    return svg.replace("<defs>", f"<style>{sheet}</style><defs>", 1)
