"""The video, decoded again by the encoder's own program: size, length, and that it shows what is drawn."""

from __future__ import annotations

import dataclasses
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from needed import missing
from records import make_analysis
from thinly import first_quick
from trackspread.errors import BadOption, FolderRefused
from trackspread.film import video
from trackspread.film.canvas import ASPECT, Ground
from trackspread.film.storyboard import scenes

RATE = 1


@pytest.fixture
def short() -> Any:
    scene = scenes(make_analysis(routes=1), ASPECT)[0]
    return [dataclasses.replace(scene, shots=scene.shots[:2])]


@pytest.fixture
def program() -> str:
    try:
        import imageio_ffmpeg
    except ImportError:
        missing("the extra 'film' is not installed")
    return str(imageio_ffmpeg.get_ffmpeg_exe())


def test_frames_change_while_traces_are_drawn_and_rest_at_the_end(short: Any) -> None:
    frames = list(video._pictures(short, 1080, Ground(), RATE))
    assert len(frames) == round(sum(video._seconds_of(short[0], n) for n in (0, 1)) * RATE)
    assert all(frame.shape == (1080, 1920, 3) for frame in frames)
    assert (frames[2] != frames[7]).any()
    assert (frames[-1] == frames[-2]).all()


@pytest.mark.parametrize("ending", first_quick(["mp4", "webm"]))
def test_a_video_can_be_decoded_again(short: Any, tmp_path: Path, program: str, ending: str) -> None:
    file = tmp_path / f"way.{ending}"
    video.write_video(short, file, frames_per_s=RATE)
    raw = ["-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    decoded = subprocess.run([program, "-v", "error", "-i", str(file), *raw], capture_output=True, check=True)
    frames = np.frombuffer(decoded.stdout, np.uint8).reshape(-1, 1080, 1920, 3)
    drawn = list(video._pictures(short, 1080, Ground(), RATE))
    assert len(frames) == len(drawn)
    for number in (5, len(drawn) - 1):
        assert np.abs(frames[number].astype(int) - drawn[number].astype(int)).mean() < 3.0
    assert np.abs(frames[-1][5, 5].astype(int) - drawn[-1][5, 5].astype(int)).max() <= 4
    assert b"creation_time" not in file.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == [file.name]


def test_nothing_is_left_of_a_video_that_failed(short: Any, tmp_path: Path, program: str) -> None:
    def stop(phase: str, share: float) -> None:
        if share > 0.1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        video.write_video(short, tmp_path / "way.mp4", frames_per_s=RATE, progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_names_that_cannot_be_are_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadOption, match=r"\.mp4 or \.webm"):
        video.checked(tmp_path / "way.avi")
    (tmp_path / "mine.mp4").write_text("mine")
    with pytest.raises(FolderRefused, match="exists"):
        video.checked(tmp_path / "mine.mp4")
    with pytest.raises(FolderRefused, match="no such folder"):
        video.checked(tmp_path / "none" / "way.mp4")


def test_without_the_extra_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "imageio_ffmpeg", None)
    with pytest.raises(BadOption, match="-m pip install imageio-ffmpeg"):
        video.checked(tmp_path / "way.mp4")
