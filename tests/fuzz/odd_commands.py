"""Every option of every command with every odd value: no traceback, no hang, nothing left, nothing foreign replaced.

Long: from ``tests``, ``python -m fuzz.odd_commands`` runs all of them and prints what was seen.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import socket
import stat
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import click

from records import PAYLOADS
from trackspread.cli import trackspread
from world import simulate

LONGEST_S, LARGEST_KB = 20, 1_500_000
NUMBERS = (
    "nan", "-nan", "inf", "-inf", "-1", "0", "-0.0", "1e400", "1e-400", "", " ", "1e9", "9" * 400, "0x10", "1_0",
    "２０", "2,5", "1;2", "None", "true",
)  # fmt: skip
PLACES = (
    "", ".", "..", "/", "/dev/null", "/dev/zero", "/dev/full", "/proc/self/mem", "/proc/self/fd/0", "pipe", "plug",
    "loop", "dangling", "secret", "mine", "mine/thesis.txt", "mine/thesis.txt/x", "no/such/folder/x", "x" * 300,
    "a\nb", "\x1b[2J", "-", "--", "~nobody/x", "\udcff", "rides/*.gpx", "rides/[", "file://x", "con", "out/../out",
    *PAYLOADS,
)  # fmt: skip
WORDS = ("", " ", "nothing of the kind", "\x00", "\u202e", "x" * 5000, *PAYLOADS)
SKIPPED = {"drop"}
"""Its options start a server; the drop page has tests of its own."""
NEEDED = {
    "analyse": ["rides", "--out", "out"],
    "archive": ["root", "--out", "out"],
    "cache": [],
    "film": ["made"],
    "init": ["rides"],
    "log": ["--out", "out/log.html"],
    "plan": ["made"],
    "rank": ["made"],
    "share": ["made", "--out", "out"],
}
"""What a command needs beside the option that is tried."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What one command came to; ``wrong`` says what it must not have done."""

    arguments: tuple[str, ...]
    code: int
    seconds: float
    wrong: str


def cases() -> Iterator[tuple[str, ...]]:
    """Yield the arguments of every case, one odd value each."""
    for name in trackspread.list_commands(click.Context(trackspread)):
        if name in SKIPPED:
            continue
        command = trackspread.get_command(click.Context(trackspread), name)
        assert command is not None
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not parameter.is_flag:
                yield from ((name, *NEEDED[name], parameter.opts[0], odd) for odd in odd_values(parameter))
            elif isinstance(parameter, click.Argument):
                yield from ((name, odd, *NEEDED[name][1:]) for odd in PLACES)


def odd_values(parameter: click.Parameter) -> tuple[str, ...]:
    """Return the odd values for an option of this kind."""
    if isinstance(parameter.type, click.Path):
        return PLACES
    return WORDS if isinstance(parameter.type, click.types.StringParamType | click.Choice) else NUMBERS


def furnish(folder: Path) -> None:
    """Put into a folder rides, a result, and things of others."""
    os.chdir(folder)
    simulate("winding", seed=5, rides=3, length_m=500.0).write_gpx(folder / "rides")
    simulate("winding", seed=5, rides=3, length_m=500.0).write_gpx(folder / "root" / "one")
    (folder / "mine").mkdir()
    (folder / "mine" / "thesis.txt").write_text("mine")
    (folder / "secret").write_text("mine")
    (folder / "secret").chmod(0)
    os.mkfifo(folder / "pipe")
    (folder / "loop").symlink_to("loop")
    (folder / "dangling").symlink_to("nowhere")
    with socket.socket(socket.AF_UNIX) as plug:
        plug.bind("plug")
    assert done(("analyse", "rides", "--out", "made", "--quiet")).code == 0


def foreign(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Return what is in a folder but for results: kind and content of each thing."""
    held = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if name.split("/")[0] in ("out", "made", "cache", "data", "said"):
            continue
        mode = path.lstat().st_mode
        data = path.read_bytes() if stat.S_ISREG(mode) and os.access(path, os.R_OK) else b""
        held[name] = (stat.S_IFMT(mode), data)
    return held


def done(arguments: tuple[str, ...]) -> Seen:
    """Run one command in a child that may take 20 s and 1.5 GB; judge what it said."""
    began = time.monotonic()
    child = os.fork()
    if not child:
        _run(arguments)
    code, used = _waited(child, began)
    seconds = time.monotonic() - began
    said = Path("said").read_text("utf-8", errors="replace")
    wrong = [
        *(["a traceback"] if "Traceback" in said else []),
        *([f"code {code}"] if code not in (0, 1, 2) else []),
        *([f"{used / 1e6:.2f} GB"] if used > LARGEST_KB else []),
        *(["control codes"] if "\x1b[2J" in said or "\u202e" in said else []),
    ]
    return Seen(arguments=arguments, code=code, seconds=seconds, wrong="; ".join(wrong) + said * bool(wrong))


def _waited(child: int, began: float) -> tuple[int, int]:
    busy = max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))  # of a machine that others use too
    while time.monotonic() - began < LONGEST_S * busy:
        ended, status, usage = os.wait4(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status), usage.ru_maxrss
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)
    _, status, usage = os.wait4(child, 0)
    return -signal.SIGKILL, usage.ru_maxrss


def _run(arguments: tuple[str, ...]) -> None:
    """Be the command: its words go to a file, its standard input is empty."""
    code = 99
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (10**8, 10**8))
        stream = os.open("said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        for number in (1, 2):
            os.dup2(stream, number)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", errors="replace", closefd=False)
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", errors="replace", closefd=False)
        sys.argv = ["trackspread", *arguments]
        from trackspread.cli import main

        main(list(arguments))
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 98
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        with suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


def run(folder: Path, chosen: list[tuple[str, ...]]) -> list[Seen]:
    """Run cases one after another in a furnished folder; put it right again after each."""
    before = foreign(folder)
    results = []
    for arguments in chosen:
        seen = done(arguments)
        after = foreign(folder)
        if after != before:
            changed = sorted(
                name for name in before.keys() | after.keys() if before.get(name) != after.get(name)
            )
            named = {part for argument in arguments for part in argument.split("/")}
            named |= {"rides.csv"} if arguments[0] == "init" else set()
            odd = [name for name in changed if name in before or not named & set(name.split("/"))]
            if odd:
                seen = Seen(**{**vars(seen), "wrong": f"{seen.wrong} changed {odd}"})
            before = after
        results.append(seen)
    return results


def main() -> None:
    """Run all cases, in an order drawn at random, and print failures and counts."""
    chosen = list(cases())
    random.Random(7).shuffle(chosen)
    chosen = chosen[: int(sys.argv[1])] if len(sys.argv) > 1 else chosen
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place, "here")  # what lies above belongs to the trial too
        folder.mkdir()
        for name in ("CACHE", "DATA"):
            os.environ[f"TRACKSPREAD_{name}"] = str(folder / name.lower())
        furnish(folder)
        seen = run(folder, chosen)
        os.chdir("/")
    for one in seen:
        if one.wrong:
            print(one.arguments, one.code, f"{one.seconds:.1f} s", one.wrong[-1500:], sep="\n  ")
    codes = {code: sum(one.code == code for one in seen) for code in sorted({one.code for one in seen})}
    slowest = max(seen, key=lambda one: one.seconds)
    print(f"{len(seen)} commands, exit codes {codes}, slowest {slowest.seconds:.1f} s {slowest.arguments}")


if __name__ == "__main__":
    main()
