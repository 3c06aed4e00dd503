"""sequence.html: a full-screen page that flies from shot to shot and draws the traces in ride time.

One file that opens offline. Texts from files stand in its JSON only and are set as text.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.film import camera
from trackspread.film.storyboard import CAUTION, PRIVATE, Path, Scene, Shot
from trackspread.report import style
from trackspread.report.policy import json_block, with_policy
from trackspread.results.words.verdicts import VERDICT_GLYPHS

MOST_SEQUENCE_POINTS = 200_000
"""More points than this are thinned evenly."""


def sequence_page(scenes: Sequence[Scene]) -> str:
    """Return the page that flies from shot to shot; it opens offline and asks the network for nothing.

    Parameters
    ----------
    scenes : sequence of Scene
        In the order in which they are shown.

    Returns
    -------
    str
        HTML with its style, its script and all that is drawn.
    """
    folder = files("trackspread.film").joinpath("templates")
    style_text, flight_text, script = (
        folder.joinpath(name).read_text("utf-8") for name in ("sequence.css", "camera.js", "sequence.js")
    )
    page = folder.joinpath("sequence.html").read_text("utf-8")
    page = page.replace("/*style*/", style.css_variables() + style_text)
    page = page.replace("/*flight*/", flight_text).replace("/*script*/", script)
    return with_policy(page).replace("<!--data-->", json_block(_sequence_data(scenes)))


def _sequence_data(scenes: Sequence[Scene]) -> dict[str, Any]:
    """Return all that the page draws; lengths in tenths of a metre, times in tenths of a second.

    Times count from the first of each trace: no dates are in the page.
    """
    total = sum(len(path.x_m) for scene in scenes for path in scene.paths)
    every = max(1, math.ceil(total / MOST_SEQUENCE_POINTS))
    return {
        "scenes": [_scene(scene, every) for scene in scenes],
        "colours": dict(style.COLOURS),
        "scale": style.SPREAD_SCALE,
        "looks": style.RECEIVER_COLOURS,
        "dashes": [[float(part) for part in dash.split()] for dash in style.RECEIVER_DASHES],
        "glyphs": dict(VERDICT_GLYPHS),
        "caution": CAUTION,
        "private": "" if all(scene.published for scene in scenes) else PRIVATE,
        "fly_s": camera.FLY_S,
        "whole_s": camera.WHOLE_S,
        "place_s": camera.PLACE_S,
        "hold_s": camera.HOLD_S,
        "reveal_s": camera.REVEAL_S,
    }


def _scene(scene: Scene, every: int) -> dict[str, Any]:
    zeros = [_first_s(path) for path in scene.paths]
    return {
        "name": scene.name,
        "length": round(scene.length_m, 1),
        "x": _steps(scene.x_m, 0.1),
        "y": _steps(scene.y_m, 0.1),
        "stations": _steps(scene.station_m, 0.1),
        "kinds": scene.spread_class.tolist(),
        "edges": [round(edge, 2) for edge in scene.edges_m],
        "receivers": list(scene.receivers),
        "looks": list(scene.looks),
        "timed": scene.timed,
        "paths": [_path(path, zero, every) for path, zero in zip(scene.paths, zeros, strict=True)],
        "shots": [_shot(shot, np.array(zeros)) for shot in scene.shots],
    }


def _first_s(path: Path) -> float:
    """Return the first time of a trace, from which its times count; 0 without times."""
    known = path.time_s[np.isfinite(path.time_s)]
    return float(known.min()) if known.size else 0.0


def _steps(values: m.Floats, unit: float) -> list[int]:
    whole = np.round(np.asarray(values) / unit).astype(np.int64)
    return [int(step) for step in np.diff(whole, prepend=np.int64(0))]


def _path(path: Path, zero_s: float, every: int) -> dict[str, Any]:
    kept = np.flatnonzero(np.isfinite(path.time_s))[::every]
    piece = path.piece[kept]
    known = np.flatnonzero(np.isfinite(path.station_m[kept]))
    station = np.full(len(kept), -1.0)
    if len(known):
        order, at = np.arange(len(kept)), path.station_m[kept][known]
        station = np.interp(order, known, at, left=-1.0, right=-1.0)
    return {
        "look": path.look,
        "x": _steps(path.x_m[kept], 0.1),
        "y": _steps(path.y_m[kept], 0.1),
        "t": _steps(path.time_s[kept] - zero_s, 0.1),
        "s": station.round(0).astype(np.int64).tolist(),
        "breaks": (np.flatnonzero(np.diff(piece)) + 1).tolist(),
    }


def _shot(shot: Shot, zero_s: m.Floats) -> dict[str, Any]:
    enter_s = (shot.enter_s - zero_s).tolist()
    return {
        "kind": shot.kind,
        "title": shot.title,
        "verdict": shot.verdict,
        "gap": [round(at, 1) for at in shot.gap_m] if shot.row >= 0 else None,
        "lines": list(shot.lines),
        "from": round(shot.from_m, 1),
        "to": round(shot.to_m, 1),
        "x": round(shot.centre_m[0], 1),
        "y": round(shot.centre_m[1], 1),
        "half": [round(shot.half_m[0], 1), round(shot.half_m[1], 1)],
        "turn": round(shot.turn_rad, 5),
        "enter": [round(at, 1) if math.isfinite(at) else None for at in enter_s],
        "seconds": round(shot.seconds, 1),
    }
