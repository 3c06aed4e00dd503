"""Read everything below some paths: each file for itself, in worker processes where there are several."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context
from pathlib import Path

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Trace
from trackspread.readers.formats import parse
from trackspread.readers.sources import LARGEST_FILE, LOAD_ERRORS, Source, sources

Progress = Callable[[str, float], None]
PHASE = "Reading"


@dataclass(frozen=True, kw_only=True, slots=True)
class FileTraces:
    """What one file gave: its name, its folder, its traces and problems."""

    name: str
    folder: str
    traces: tuple[Trace, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadResult:
    """All files read, in a fixed order."""

    files: tuple[FileTraces, ...]
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
        Files, folders, globs, ``.gz``, ``.zip``.
    progress : callable, optional
        Told the share of the files done.
    workers : int
        Processes that parse; one parses here.
    executor : concurrent.futures.Executor, optional
        Any other engine to parse on; goes before ``workers``.
    cache : bool
        Reuse what was parsed before from the same bytes.
    largest : int
        Most bytes that one file may hold.

    Returns
    -------
    ReadResult
        One bad file never costs the others: it becomes a `Problem`.
    """
    problems: list[Problem] = []
    found = list(sources(paths, problems, largest))
    tell = progress or (lambda phase, share: None)
    tell(PHASE, 0.0)
    files = []
    for number, file in enumerate(_read_all(found, cache, workers, executor), 1):
        files.append(file)
        tell(PHASE, number / len(found))
    if cache:
        from trackspread.readers.cache import trim

        trim()
    problems += [problem for file in files for problem in file.problems]
    return ReadResult(files=tuple(files), problems=tuple(problems))


def _read_all(
    found: list[Source], cache: bool, workers: int, executor: Executor | None
) -> Iterator[FileTraces]:
    jobs = [(source, cache) for source in found]
    if executor is not None:
        yield from _in_order(executor, jobs, 32)
    elif workers > 1 and len(found) > 1:
        with ProcessPoolExecutor(min(workers, len(found)), mp_context=get_context("spawn")) as pool:
            yield from _in_order(pool, jobs, 4 * workers)
    else:
        yield from map(read_one, jobs)


def _in_order(executor: Executor, jobs: Iterable[tuple[Source, bool]], ahead: int) -> Iterator[FileTraces]:
    """Run jobs with at most ``ahead`` under way, and yield their results in order."""
    todo = iter(jobs)
    waiting = [executor.submit(read_one, job) for job in islice(todo, ahead)]
    while waiting:
        yield waiting.pop(0).result()
        waiting += [executor.submit(read_one, job) for job in islice(todo, 1)]


def read_one(job: tuple[Source, bool]) -> FileTraces:
    """Read one source; whatever is wrong with it becomes a problem of this file alone."""
    source, cache = job
    try:
        data = source.load()
    except LOAD_ERRORS as error:
        rule = f"the file cannot be read: {printable(getattr(error, 'strerror', None) or str(error))}"
        return _file(source, (), (Problem(file=source.name, rule=rule),))
    try:
        traces, problems = _parsed(source, data, cache)
    except UnreadableFile as error:
        return _file(source, (), (error.problem,))
    return _file(source, tuple(traces), tuple(problems))


def _parsed(source: Source, data: bytes, cache: bool) -> tuple[list[Trace], list[Problem]]:
    if not cache:
        return parse(source.name, data, source.asked)
    from trackspread.readers.cache import cached_parse

    return cached_parse(source.name, data, source.asked)


def _file(source: Source, traces: tuple[Trace, ...], problems: tuple[Problem, ...]) -> FileTraces:
    return FileTraces(name=source.name, folder=source.folder, traces=traces, problems=problems)
