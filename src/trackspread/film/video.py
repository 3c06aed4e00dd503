"""The sequence as a video: the same shots, the same flights, frame by frame into MP4 or WebM.

Encoding needs the optional extra ``film``, which carries an encoder.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any

from trackspread.errors import BadOption, FolderRefused
from trackspread.film.camera import FLY_S, HOLD_S, PLACE_S, REVEAL_S, WHOLE_S, between, view_of
from trackspread.film.canvas import HEIGHT, WIDTH, Ground
from trackspread.film.frames import Picture, Stage
from trackspread.film.stills import LOOK
from trackspread.film.storyboard import Scene, Shot
from trackspread.report.drawing import drawing
from trackspread.system.extras import how_to_get
from trackspread.system.placing import whole
from trackspread.system.progress import Progress

FRAMES_PER_S = 30  # frames a second
_ENCODERS: Mapping[str, str] = MappingProxyType(
    {
        ".mp4": "-c:v libx264 -crf 17 -preset veryfast -pix_fmt yuv420p -movflags +faststart",
        ".webm": "-c:v libvpx-vp9 -crf 24 -b:v 0 -deadline good -cpu-used 4 -row-mt 1",
    }
)
_COLOURS = (
    "-vf scale=out_color_matrix=bt709:out_range=tv "
    "-colorspace bt709 -color_primaries bt709 -color_trc bt709 -color_range tv"
)
"""Those of high definition (ITU-R BT.709); untold, players guess, and the ground turns green."""
_SILENT = "-map_metadata -1 -fflags +bitexact -flags:v +bitexact"


class NoEncoder(BadOption):
    """No encoder is installed; everything but a video can be made."""


def write_video(
    scenes: Sequence[Scene],
    file: FilePath,
    *,
    height: int = HEIGHT,
    ground: Ground | None = None,
    frames_per_s: int = FRAMES_PER_S,
    progress: Progress | None = None,
) -> None:
    """Write the sequence of all scenes as a video; the ending of the file, ``.mp4`` or ``.webm``, says how.

    Parameters
    ----------
    scenes : sequence of Scene
    file : Path
        A new file.
    height : int
        Pixels, even; the width is 16/9 of it.
    ground : Ground, optional
        Light without it.
    frames_per_s : int
        Frames a second.
    progress : Progress, optional
        Told the phase ``video``.

    Raises
    ------
    BadOption
        The ending is another; as `NoEncoder` where the extra ``film`` is not installed.
    FolderRefused
        The file exists, its folder does not, or it cannot be written.
    """
    encoder = checked(file)
    try:
        with whole(file) as part:
            _encode(encoder, scenes, part, height, ground or Ground(), frames_per_s, progress)
    except OSError as error:
        raise FolderRefused(
            f"{file}: cannot be written: {error.strerror or error}; name another one"
        ) from error


def _encode(
    encoder: Any, scenes: Sequence[Scene], part: FilePath, height: int, ground: Ground, frames_per_s: int,
    progress: Progress | None,
) -> None:  # fmt: skip
    width = height * WIDTH // HEIGHT
    flags = f"{_ENCODERS[part.suffix.lower()]} {_COLOURS} {_SILENT}".split()
    writer = encoder.write_frames(
        str(part), (width, height), fps=frames_per_s, codec=None, macro_block_size=2, quality=None,
        output_params=flags, ffmpeg_log_level="error",
    )  # fmt: skip
    total = sum(_seconds_of(scene, n) for scene in scenes for n in range(len(scene.shots))) * frames_per_s
    try:
        writer.send(None)
        for number, picture in enumerate(_pictures(scenes, height, ground, frames_per_s)):
            writer.send(picture.tobytes())
            if progress:
                progress("video", min(number / total, 1.0))
    finally:
        writer.close()


def checked(file: FilePath) -> Any:
    """Return the encoder's module, after asking whether the video can be written at all.

    Parameters
    ----------
    file : Path
        The video to be.

    Returns
    -------
    module

    Raises
    ------
    BadOption
        The ending is neither ``.mp4`` nor ``.webm``.
    FolderRefused
        The file exists, or its folder does not.
    NoEncoder
        No encoder is installed.
    """
    if file.suffix.lower() not in _ENCODERS:
        raise BadOption("video", "a name that ends in .mp4 or .webm is needed", repr(file.name))
    if file.exists():
        raise FolderRefused(f"{file}: this file exists; name another one or move it away")
    if not file.parent.is_dir():
        raise FolderRefused(f"{file.parent}: no such folder for the video; make it first")
    try:
        return importlib.import_module("imageio_ffmpeg")
    except ImportError as error:
        raise NoEncoder("video", f"no encoder is installed; {how_to_get('imageio-ffmpeg')}") from error


def _seconds_of(scene: Scene, number: int) -> float:
    """Return how long a shot takes with the flight to it."""
    drawn = WHOLE_S if scene.shots[number].kind == "whole" else PLACE_S
    return (FLY_S if number else 0.0) + drawn + REVEAL_S + HOLD_S


def _pictures(scenes: Sequence[Scene], height: int, ground: Ground, frames_per_s: int) -> Iterator[Picture]:
    """Give every frame, shape (height, width, 3)."""
    with drawing(LOOK):
        for scene in scenes:
            stage = Stage.of(scene, ground, height)
            for number, shot in enumerate(scene.shots):
                yield from _shot(stage, scene, shot, number, frames_per_s)


def _shot(stage: Stage, scene: Scene, shot: Shot, number: int, frames_per_s: int) -> Iterator[Picture]:
    fly = FLY_S if number else 0.0
    drawn = WHOLE_S if shot.kind == "whole" else PLACE_S
    start = view_of(scene.shots[number - 1]) if number else view_of(shot)
    stage.enter(shot)
    still: Picture | None = None
    for frame in range(round(_seconds_of(scene, number) * frames_per_s)):
        now = frame / frames_per_s
        share = min(max((now - fly) / drawn, 0.0), 1.0)
        reveal = min(max((now - fly - drawn) / REVEAL_S, 0.0), 1.0)
        if still is None:
            view = between(start, view_of(shot), now / fly) if now < fly else view_of(shot)
            picture = stage.picture(view, share * shot.seconds, reveal, arrived=now >= fly)
            still = picture if reveal >= 1.0 else None
        yield picture if still is None else still
