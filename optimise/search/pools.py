"""Where shares of a search are worked at besides this process: what that has to offer, and here.

A pool may be lost at any time. It says so by :class:`LostError`, and whoever asked it does the
shares again that were not answered.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

from optimise.memory import keep_freed

_Answer = TypeVar("_Answer")


class LostError(Exception):
    """A pool cannot go on; its text says why."""


class Pool(Protocol):
    """Others who work; each method may raise :class:`LostError`."""

    def room(self) -> int:
        """How many shares can be worked at now, those being worked at included."""

    def submit(self, do: Callable[..., _Answer], /, *given: Any) -> Future[_Answer]:
        """Have a share worked at, at once where there is room."""

    def answer(self, future: Future[_Answer]) -> _Answer:
        """Answer of a share that is done, or what it raised."""

    def end(self) -> None:
        """Let all of them go, whatever they are at; never raises."""


class Processes:
    """Processes of this computer.

    Parameters
    ----------
    workers
        How many; they start with the first shares.
    """

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._pool = ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), _enter)

    def room(self) -> int:
        """All of them."""
        return self._workers

    def submit(self, do: Callable[..., _Answer], /, *given: Any) -> Future[_Answer]:
        """Have a share worked at."""
        with _deaf(), _told():
            return self._pool.submit(do, *given)

    def answer(self, future: Future[_Answer]) -> _Answer:
        """Answer of a share that is done, or what it raised."""
        with _told():
            return future.result()

    def end(self) -> None:
        """Kill all of them and wait until they are gone."""
        processes = list((self._pool._processes or {}).values())
        manager: threading.Thread | None = self._pool._executor_manager_thread  # type: ignore[assignment]
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.kill()
        for process in processes:
            process.join()
        # The interpreter wakes it as it ends and must not find its pipe half closed.
        if manager is not None:
            manager.join()


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except BrokenProcessPool:
        raise LostError("a process of the search has died") from None


def _enter() -> None:
    """Begin as a process of a pool: it ends with its parent."""
    keep_freed()
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


@contextmanager
def _deaf() -> Iterator[None]:
    """Ctrl-C and SIGTERM wait; Ctrl-C never reaches a process that is started meanwhile."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard: list[int] = []
    before = {sign: signal.getsignal(sign) for sign in (signal.SIGINT, signal.SIGTERM)}
    for sign in before:
        signal.signal(sign, lambda number, _: heard.append(number))
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        for sign, handler in before.items():
            signal.signal(sign, signal.SIG_DFL if handler is None else handler)
        for number in heard:
            signal.raise_signal(number)
