"""Kinds of archives, folders and names."""

from __future__ import annotations

import gzip
import os
import zlib
from pathlib import Path

from corpus.blocks import GOOD, kind, saved, zipped


@kind
def gzip_member(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode()), "a.gpx.gz")


@kind
def gzip_truncated(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode())[:-30], "a.gpx.gz")


@kind
def gzip_that_is_none(folder: Path) -> Path:
    return saved(folder, GOOD, "a.gpx.gz")


@kind
def gzip_bomb(folder: Path) -> Path:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    return saved(
        folder, b"".join([*(packer.compress(bytes(2**20)) for _ in range(40)), packer.flush()]), "a.gpx.gz"
    )


@kind
def zip_with_folders(folder: Path) -> Path:
    return zipped(folder, {"sedge/a.gpx": GOOD, "moss/deep/a.gpx": GOOD, "moss/notes.txt": "hello"})


@kind
def zip_with_paths_upwards(folder: Path) -> Path:
    return zipped(folder, {"../../evil.gpx": GOOD, "/etc/evil.gpx": GOOD})


@kind
def zip_bomb(folder: Path) -> Path:
    return zipped(folder, {"a.gpx": bytes(5 * 2**20), "b.gpx": GOOD})


@kind
def zip_in_a_zip(folder: Path) -> Path:
    inner = zipped(folder, {"a.gpx": GOOD}, "inner.zip").read_bytes()
    return zipped(folder, {"inner.zip": inner, "b.gpx": GOOD}, "outer.zip")


@kind
def zip_with_a_bad_member(folder: Path) -> Path:
    path = zipped(folder, {"a.gpx": GOOD, "b.gpx": GOOD.replace("sedge", "moss")})
    data = bytearray(path.read_bytes())
    data[60] ^= 0xFF
    path.write_bytes(bytes(data))
    return path


@kind
def zip_that_is_none(folder: Path) -> Path:
    return saved(folder, GOOD, "a.zip")


@kind
def zip_without_traces(folder: Path) -> Path:
    return zipped(folder, {"readme.txt": "hello"})


@kind
def folder_with_other_files(folder: Path) -> Path:
    saved(folder, GOOD)
    for name in ("notes.txt", ".hidden.gpx", "map.png", "report.html", "pulse.csv", "README"):
        saved(folder, b"\x00\x01 other", name)
    return folder


@kind
def folder_with_an_unknown_format(folder: Path) -> Path:
    saved(folder, GOOD)
    saved(folder, bytes(range(200)), "a.abc")
    return folder


@kind
def folder_that_is_empty(folder: Path) -> Path:
    return folder


@kind
def folder_with_a_loop_of_links(folder: Path) -> Path:
    saved(folder, GOOD)
    (folder / "loop").symlink_to(folder, target_is_directory=True)
    (folder / "self.gpx").symlink_to(folder / "self.gpx")
    (folder / "again.gpx").symlink_to(folder / "a.gpx")
    return folder


@kind
def folder_with_a_pipe(folder: Path) -> Path:
    saved(folder, GOOD)
    os.mkfifo(folder / "pipe.gpx")
    return folder


@kind
def name_with_quotes_and_markup(folder: Path) -> Path:
    return saved(folder, GOOD, "a'b\"c<b>{{x}}.gpx")


@kind
def name_with_line_break_and_direction_mark(folder: Path) -> Path:
    return saved(folder, GOOD, "a\nb\u202expg.gpx")


@kind
def name_that_is_no_text(folder: Path) -> Path:
    path = os.path.join(os.fsencode(folder), b"a\xff\xfe.gpx")
    with open(path, "wb") as file:
        file.write(GOOD.encode())
    return Path(os.fsdecode(path))


@kind
def name_without_suffix(folder: Path) -> Path:
    return saved(folder, GOOD, "trace")


@kind
def file_that_is_not_there(folder: Path) -> Path:
    return folder / "nowhere.gpx"


@kind
def link_to_nowhere(folder: Path) -> Path:
    (folder / "a.gpx").symlink_to(folder / "nowhere.gpx")
    return folder / "a.gpx"


@kind
def notes_named_one_by_one(folder: Path) -> Path:
    return saved(folder, "Tuesday, rain.", "notes.txt")
