"""Write stills and the full-screen sequence of an analysis beside its report."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from trackspread.film.canvas import Ground
from trackspread.film.sequence import sequence_page
from trackspread.film.stills import still
from trackspread.film.storyboard import Scene, Shot
from trackspread.model import Analysis
from trackspread.results.arrays import write_arrays
from trackspread.results.document import result_document, result_text
from trackspread.system.locks import locked
from trackspread.system.placing import put, refused, workplace
from trackspread.system.progress import Progress

STILLS, SEQUENCE = "stills", "sequence.html"
OURS = re.compile(r"\d{2,}-[a-z0-9-]+-\d{4}p\.png")


def write_film(
    scenes: Sequence[Scene],
    folder: Path,
    *,
    sizes: Sequence[int],
    grounds: Sequence[Ground] = (Ground(),),
    kept: Analysis | None = None,
    progress: Progress | None = None,
) -> list[Path]:
    """Write ``stills/`` and ``sequence.html`` into a folder: one still for each shot, size and ground.

    Stills of an earlier run give way to the new ones; files of others stay. Nothing half-written is left.

    Parameters
    ----------
    scenes : sequence of Scene
    folder : Path
        Made where it is missing.
    sizes : sequence of int
        Heights of the stills, pixels.
    grounds : sequence of Ground
        What stands behind them.
    kept : Analysis, optional
        An analysis cut for publishing: result.json and arrays.npz are written too, so that the next run shows
        the same cut.
    progress : Progress, optional
        Told the phase ``stills``.

    Returns
    -------
    list of Path
        The files, the sequence last.

    Raises
    ------
    FolderRefused
        The folder cannot be written to; nothing was changed then.
    """
    tell = progress or (lambda phase, share: None)
    wanted = [
        (scene, shot, size, ground)
        for scene in scenes
        for shot in scene.shots
        for size in sizes
        for ground in grounds
    ]
    folder = folder.resolve()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with workplace(folder) as made:
            (made / STILLS).mkdir()
            for number, (scene, shot, size, ground) in enumerate(wanted):
                tell("stills", number / len(wanted))
                name = still_name(scenes, scene, shot, size, clear=ground.transparent)
                (made / STILLS / name).write_bytes(still(scene, shot, size, ground))
            (made / SEQUENCE).write_bytes(sequence_page(scenes).encode("utf-8", "replace"))
            if kept is not None:
                document = result_text(result_document(kept))
                (made / "result.json").write_bytes(document.encode("utf-8", "replace"))
                write_arrays(kept, made / "arrays.npz")
            with locked(folder):
                names = put(made, folder, gone=_is_old_still)
    except OSError as error:
        raise refused(folder, error) from error
    finally:
        tell("stills", 1.0)
    shown = [name for name in names if name.parent == Path(STILLS)]
    return [folder / name for name in (*sorted(shown), Path(SEQUENCE))]


def still_name(scenes: Sequence[Scene], scene: Scene, shot: Shot, size: int, clear: bool = False) -> str:
    """Return the name of a still: number of the shot, route, place, verdict and height.

    Such as ``01-outward-whole-1080p.png`` or ``03-outward-1200-1700m-torn-transparent-1080p.png``.

    Parameters
    ----------
    scenes : sequence of Scene
        All; shots are numbered through.
    scene : Scene
    shot : Shot
        One of ``scene``.
    size : int
        Height, pixels.
    clear : bool
        Whether its ground is transparent.

    Returns
    -------
    str
        Letters from a to z, digits, hyphens and the ending.
    """
    shots = [each for every in scenes for each in every.shots]
    number = next(n for n, each in enumerate(shots, 1) if each is shot)
    route = re.sub(r"[^a-z0-9]+", "-", scene.name.lower()).strip("-")[:40] or "route"
    place = f"{shot.from_m:.0f}-{shot.to_m:.0f}m-{shot.verdict}"
    place = {"whole": "whole", "fix": "first-fix"}.get(shot.kind, place) + ("-transparent" if clear else "")
    return f"{number:02d}-{route}-{place}-{size}p.png"


def _is_old_still(name: Path) -> bool:
    return name.parent == Path(STILLS) and bool(OURS.fullmatch(name.name))
