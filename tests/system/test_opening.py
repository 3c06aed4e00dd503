"""Regular files only: pipes, devices and links of loops neither wait nor are replaced."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trackspread.errors import FolderRefused
from trackspread.system.opening import check_replaceable, place_of, regular_bytes


def test_a_pipe_does_not_wait_and_a_device_does_not_go_on_for_ever(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "zero").symlink_to("/dev/zero")
    for path in (tmp_path / "pipe", tmp_path / "zero", tmp_path):
        with pytest.raises(OSError, match=r"not a regular file|directory"):
            regular_bytes(path, 10)


def test_a_file_is_read_as_far_as_asked(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"0123456789")
    assert regular_bytes(tmp_path / "file", 4) == b"0123"


@pytest.mark.parametrize("kind", ["link", "loop", "pipe", "device", "folder"])
def test_what_is_no_regular_file_is_not_replaced(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "there"
    if kind == "link":
        path.symlink_to(tmp_path / "elsewhere")
    elif kind == "loop":
        path.symlink_to(path)
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path = Path("/dev/null")
    with pytest.raises(FolderRefused, match="name "):
        check_replaceable(path)


def test_a_new_and_a_regular_file_may_be_written(tmp_path: Path) -> None:
    check_replaceable(tmp_path / "new")
    (tmp_path / "old").write_text("")
    check_replaceable(tmp_path / "old")


def test_links_are_followed_to_a_place_and_not_into_nothing(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path)
    (tmp_path / "\u202eloop").symlink_to(tmp_path / "\u202eloop")
    (tmp_path / "dangling").symlink_to(tmp_path / "absent")
    assert place_of(tmp_path / "link" / "new") == tmp_path.resolve() / "new"
    for name in ("\u202eloop", "dangling"):
        with pytest.raises(FolderRefused, match=f"{name.strip(chr(0x202E))}: .*name another") as refused:
            place_of(tmp_path / name)
        assert "\u202e" not in str(refused.value)
