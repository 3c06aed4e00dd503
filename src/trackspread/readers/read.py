"""Read everything below some paths: each file for itself, in worker processes where there are several."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from itertools import accumulate
from pathlib import Path

from trackspread.errors import Problem, UnreadableFile, first_few, printable
from trackspread.model import Trace
from trackspread.readers.recognise import parse
from trackspread.readers.sources import LARGEST_FILE, LOAD_ERRORS, RIGHTS, SHEET_NAME, Source, Sources
from trackspread.system.progress import Progress
from trackspread.system.workers import Workers, in_order

Parsed = tuple[tuple[Trace, ...], tuple[Problem, ...]]
PHASE = "Reading"
MANY = 32
"""Files under way at most."""
FIRST = 5 * 2**19  # bytes of files that a worker reads while this process loads what analyses them


@dataclass(frozen=True, kw_only=True, slots=True)
class FileTraces:
    """What one file gave.

    ``path`` is where it lies, ``below`` are the folders between what the user named and the file.
    """

    name: str
    path: str
    below: tuple[str, ...]
    traces: tuple[Trace, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetFile:
    """A ``rides.csv`` found among the files or beside them, unread."""

    name: str
    path: str
    data: bytes


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadResult:
    """All files read, in a fixed order; ``problems`` holds those of the files too."""

    files: tuple[FileTraces, ...]
    sheets: tuple[SheetFile, ...]
    problems: tuple[Problem, ...]

    @property
    def traces(self) -> tuple[Trace, ...]:
        """All traces, in the order of the files."""
        return tuple(trace for file in self.files for trace in file.traces)


def read_files(
    paths: Sequence[Path | str], *, progress: Progress | None = None, workers: int = 1,
    executor: Executor | None = None, cache: bool = False, largest: int = LARGEST_FILE,
) -> ReadResult:  # fmt: skip
    """Read all traces below ``paths``.

    Parameters
    ----------
    paths : sequence of path or str
        Files, folders, globs, ``.gz``, ``.zip``. Inside folders and archives, hidden files and those that
        are plainly no traces are passed over.
    progress : callable, optional
        Told the share of the files done; what it raises stops the reading.
    workers : int
        Processes that parse, with this one.
    executor : concurrent.futures.Executor, optional
        What to parse on instead: any other engine, or workers that are there already.
    cache : bool
        Reuse what was parsed before from the same bytes.
    largest : int
        Most bytes that one file may hold, unpacked.

    Returns
    -------
    ReadResult
        One bad file never costs the others: it becomes a `Problem`.
    """
    tell = progress or (lambda phase, share: None)
    tell(PHASE, 0.0)
    with Sources(largest=largest) as sources:
        found = sources.find(paths)
        sheets = _sheets(found, sources)
        traces = [source for source in found if not (source.is_sheet or source.is_places)]
        files = []
        for number, file in enumerate(_read_all(traces, sources, cache, workers, executor), 1):
            files.append(file)
            tell(PHASE, number / len(traces))
        if cache:
            _trim_cache()
    problems = [*sources.problems, *(problem for file in files for problem in file.problems)]
    if not problems and not any(file.traces for file in files):
        problems.append(_nothing(paths, files))
    return ReadResult(files=tuple(files), sheets=sheets, problems=tuple(problems))


def _nothing(paths: Sequence[Path | str], files: Sequence[FileTraces]) -> Problem:
    """Say what lies where recordings were looked for."""
    named = printable(", ".join(map(str, paths)), 300)
    starts = tuple(str(path).rstrip("/\\") for path in paths)
    seen = [_below(file.name, starts) for file in files]
    shown = first_few(seen)
    rule, remedy = "there is no recording here", "name the folder of the FIT, TCX or GPX files"
    return Problem(file=named, value=shown or "no file", rule=rule, remedy=remedy)


def _below(name: str, starts: Sequence[str]) -> str:
    """Return the name of a file from the folder or archive on that was named, else its last part."""
    inside = (
        name[len(start) + 1 :] for start in starts if name[: len(start) + 1] in (f"{start}/", start + os.sep)
    )
    return next(inside, os.path.basename(name))


def _trim_cache() -> None:
    from trackspread.system.cache import trim

    trim()


def _sheets(found: list[Source], sources: Sources) -> tuple[SheetFile, ...]:
    """Return the tables of rides found, and those beside files that were named one by one."""
    named = {source.path: source for source in found if source.is_sheet}
    beside = {os.path.join(os.path.dirname(source.path), SHEET_NAME) for source in found if source.asked}
    for path in sorted(path for path in beside - named.keys() if os.path.isfile(path)):
        named[path] = Source(name=printable(path, 300), path=path, below=(), asked=False, _file=path)
    sheets = []
    for path in sorted(named):
        try:
            sheets.append(SheetFile(name=named[path].name, path=path, data=sources.load(named[path])))
        except LOAD_ERRORS as error:
            sources.problems.append(_not_loaded(named[path], error))
    return tuple(sheets)


def _read_all(
    found: list[Source], sources: Sources, cache: bool, workers: int, executor: Executor | None
) -> Iterator[FileTraces]:
    """Load here, parse here or elsewhere, and yield in order; few files are under way at once."""
    helpers = min(workers, len(found)) - 1
    own = executor is None and helpers > 0
    with Workers(helpers) if own else nullcontext(executor) as pool:
        sizes = accumulate(source.size for source in found)
        at_first = max(2, sum(size <= FIRST for size in sizes))
        jobs = (_loaded(source, sources, cache) for source in found)
        parsed = in_order(pool, jobs, ahead=MANY, at_first=at_first)
        for source, (traces, problems) in zip(found, parsed, strict=True):
            yield FileTraces(
                name=source.name, path=source.path, below=source.below, traces=traces, problems=problems
            )


def _loaded(source: Source, sources: Sources, cache: bool) -> Callable[[], Parsed]:
    """Return the job of parsing a file that has been loaded."""
    try:
        data = sources.load(source)
    except LOAD_ERRORS as error:
        return partial(_failed, _not_loaded(source, error))
    return partial(parse_one, source.name, data, source.asked, cache)


def _failed(problem: Problem) -> Parsed:
    return (), (problem,)


def parse_one(name: str, data: bytes, asked: bool, cache: bool) -> Parsed:
    """Parse one file; whatever is wrong with it becomes a problem of this file alone.

    Parameters
    ----------
    name : str
        The file as the user named it.
    data : bytes
        What it holds.
    asked : bool
        Whether the user named this file, and not its folder.
    cache : bool
        Whether parsed files are kept.

    Returns
    -------
    tuple
        Traces, and problems.
    """
    try:
        if cache:
            from trackspread.readers.cache import cached_parse

            traces, problems = cached_parse(name, data, asked)
        else:
            traces, problems = parse(name, data, asked)
    except UnreadableFile as error:
        return (), (error.problem,)
    return tuple(traces), tuple(problems)


def _not_loaded(source: Source, error: Exception) -> Problem:
    why = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return Problem(file=source.name, rule=f"the file cannot be read: {printable(why, 200)}", remedy=RIGHTS)
