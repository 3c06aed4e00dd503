"""Work done elsewhere: worker processes that end with the run, and jobs whose results come in order.

The processes end without a word when the run is interrupted, and when it is killed.
"""

from __future__ import annotations

import atexit
import gc
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from importlib import import_module
from multiprocessing import active_children, get_context, parent_process, resource_tracker
from typing import Any, TypeVar

from trackspread.system.signals import heard_everywhere, interrupted_by, was_interrupted

Result = TypeVar("Result")
FEW_COLLECTIONS = (100_000, 50, 50)
"""Thresholds of `gc`: parsed points are many small objects without cycles."""


class Workers(ProcessPoolExecutor):
    """A pool of fresh processes; ``count`` says how many.

    ``errand`` is what this process does, once, as soon as the workers have jobs to do (`in_order`).
    """

    def __init__(self, workers: int) -> None:
        self.count = workers
        self.errand: Callable[[], None] | None = None
        self._elsewhere = set(active_children())
        super().__init__(workers, mp_context=get_context("spawn"), initializer=_prepare)

    def submit(self, fn: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Future[Result]:
        """Do a piece of work in one of the processes."""
        with _born_deaf():
            return super().submit(_interruptible, fn, *args, **kwargs)

    def __exit__(self, kind: type[BaseException] | None, error: Any, trace: Any) -> bool | None:
        """Wait for the work to end; after an error it is interrupted first."""
        manager: threading.Thread | None = None
        if kind is not None:
            manager = getattr(self, "_executor_manager_thread", None)  # forgotten by what follows
            self.shutdown(wait=False, cancel_futures=True)
            for child in set(active_children()) - self._elsewhere:
                if child.pid is not None:
                    with suppress(ProcessLookupError):
                        os.kill(child.pid, signal.SIGINT)
        told = super().__exit__(kind, error, trace)
        if manager is not None:
            manager.join()  # else the interpreter, at its end, may write to the pipe that this thread closes
        return told


@contextmanager
def _born_deaf() -> Iterator[None]:
    """Let a process that starts here hear no interruption before it is ready (`_prepare`)."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # it would let interruptions through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def in_order(
    executor: Executor | None, jobs: Iterable[Callable[[], Result]], *, ahead: int = 32, each: int = 2,
    at_first: int = 2,
) -> Iterator[Result]:  # fmt: skip
    """Yield what jobs return, in their order; they are done on the executor, without one here.

    Beside our own workers this process does jobs too, whenever it has given ``each`` of them so many; while
    it has an errand they get ``at_first`` jobs each. A job that was lost with its worker is done again here.
    At most ``ahead`` are under way.

    Parameters
    ----------
    executor : Executor or None
        Where jobs are done.
    jobs : iterable of callable
        Each is done once, without arguments.
    ahead : int
        Jobs under way at most.
    each, at_first : int
        Jobs that a worker of our own has before this process does one, and before it goes on its errand.

    Yields
    ------
    object
        What each job returned.
    """
    own = executor if isinstance(executor, Workers) else None
    waiting: deque[tuple[Callable[[], Result], Future[Result]]] = deque()

    def is_busy(each: int) -> bool:
        under_way = sum(not future.done() for _, future in waiting)
        return under_way >= (each * own.count if own else ahead)

    for job in jobs:
        if own and own.errand and is_busy(at_first):
            _run_errand(own)
        most = at_first if own and own.errand else each
        waiting.append((job, _begun(None if is_busy(most) else executor, job)))
        while waiting and (len(waiting) > ahead or waiting[0][1].done()):
            yield _ended(*waiting.popleft())
    if own:
        _run_errand(own)
    while waiting:
        yield _ended(*waiting.popleft())


def _run_errand(workers: Workers) -> None:
    errand, workers.errand = workers.errand, None
    if errand:
        errand()


def load(*modules: str) -> None:
    """Load modules: a worker that has done so ahead begins at once with what needs them.

    Parameters
    ----------
    *modules : str
        Full names.
    """
    for name in modules:
        import_module(name)


def do_ahead(executor: Executor | None, work: Callable[[], None]) -> None:
    """Let a worker do what is needed later; where it is lost, that costs nothing.

    Parameters
    ----------
    executor : Executor or None
        Without one nothing is done.
    work : callable
        Prepares the process that does it, such as by `load`.
    """
    if executor is not None:
        with suppress(BrokenExecutor):
            executor.submit(work)


def begun(executor: Executor | None, job: Callable[[], Result]) -> Callable[[], Result]:
    """Begin a job on an executor; what comes back waits for its result, or does the job without one.

    Parameters
    ----------
    executor : Executor or None
        Where the job is done.
    job : callable
        Done once, without arguments.

    Returns
    -------
    callable
        Returns what the job returned.
    """
    return partial(_ended, job, _begun(executor, job)) if executor else job


def _begun(executor: Executor | None, job: Callable[[], Result]) -> Future[Result]:
    if executor is not None:
        with suppress(BrokenExecutor):
            return executor.submit(job)
    here: Future[Result] = Future()
    here.set_result(job())
    return here


def _ended(job: Callable[[], Result], future: Future[Result]) -> Result:
    try:
        return future.result()
    except BrokenExecutor:
        return job()


def _interruptible(work: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Result:
    """Do a piece of work in a worker: an interruption ends it, and between two it is passed over.

    A worker that was interrupted does nothing more: modules may be loaded by half.
    """
    if was_interrupted():
        raise KeyboardInterrupt
    before = signal.getsignal(signal.SIGINT)
    interrupted_by("SIGINT")
    try:
        return work(*args, **kwargs)
    finally:
        signal.signal(signal.SIGINT, before)


def _prepare() -> None:
    """Leave an interruption between two pieces of work to the run that all workers belong to."""
    gc.set_threshold(*FEW_COLLECTIONS)
    atexit.register(os._exit, 0)  # nothing is left to be done, and taking modules apart takes its time
    heard_everywhere()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    end_with_parent()


def end_with_parent() -> None:
    """End this process as soon as its parent has gone, whatever it is doing."""
    threading.Thread(target=_outlived, daemon=True).start()


def _outlived() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
