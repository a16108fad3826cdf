"""Shares of a search done one after another, or by several processes; a share lost is done again.

What a share gives hangs on the share alone, so that answers are the same for any number of
processes, and whoever dies on the way.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from types import TracebackType
from typing import TypeVar

import numpy as np

from optimise.search.goals import read_goals
from optimise.search.problem import Problem, Progress, Tally

HEARTBEAT = 0.5
"""Seconds after which a wait for a share tells that it goes on."""
MOST_LOST = 3
"""Crews that may be lost; what is left then is done by this process."""

_Load = TypeVar("_Load")
_Answer = TypeVar("_Answer")


@dataclass(frozen=True)
class Effort:
    """How a search may work.

    Attributes
    ----------
    workers
        Processes that share it; 1 is this one.
    seconds
        After which it stops with what it has; None where it goes on to its end.
    """

    workers: int = 1
    seconds: float | None = None


ALONE = Effort()


class Crew:
    """Processes that know a problem.

    Parameters
    ----------
    problem
        Given to whatever they do.
    workers
        How many; with 1 this process does all.
    tally
        Counts what all of them do; they stop when its time is over.
    progress
        Called with words and a share now and then.
    """

    def __init__(
        self, problem: Problem, workers: int, tally: Tally, progress: Progress | None
    ) -> None:
        self._problem = problem
        self._workers = workers
        self._tally = tally
        self._progress = progress
        self._pool: ProcessPoolExecutor | None = None
        self._lost = 0
        self._words, self._low, self._high, self._done = "", 0.0, 1.0, 0.0
        tally.tell = self._tell

    def __enter__(self) -> Crew:
        """Nothing yet: processes start with the first shares."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the processes, at once where something went wrong."""
        self._end()

    def stage(self, words: str, low: float, high: float) -> None:
        """Name what comes next, and which part of all it is."""
        self._words, self._low, self._high, self._done = words, low, high, 0.0
        self._tell(self._tally.evaluated)

    def _tell(self, evaluated: int) -> None:
        if self._progress is not None:
            share = self._low + self._done * (self._high - self._low)
            self._progress(f"{self._words}; {evaluated:,} machines worked out", share)

    def each(
        self, work: Callable[[Problem, _Load, Tally], _Answer], loads: Sequence[_Load]
    ) -> list[_Answer]:
        """Answers to shares, in their order."""
        answers: dict[int, _Answer] = {}
        while self._workers > 1 and len(loads) - len(answers) > 1 and self._lost < MOST_LOST:
            try:
                self._ask(work, loads, answers)
            except BrokenProcessPool:
                self._lost += 1
                self._end()
        for nth, load in enumerate(loads):
            if nth not in answers:
                answers[nth] = work(self._problem, load, self._tally)
                self._done = len(answers) / len(loads)
        return [answers[nth] for nth in range(len(loads))]

    def _ask(
        self,
        work: Callable[[Problem, _Load, Tally], _Answer],
        loads: Sequence[_Load],
        answers: dict[int, _Answer],
    ) -> None:
        pool = self._started()
        with _deaf():
            asked: dict[Future[tuple[_Answer, Tally]], int] = {
                pool.submit(_do, self._packed, work, load, self._tally.until): nth
                for nth, load in enumerate(loads)
                if nth not in answers
            }
        waiting = set(asked)
        while waiting:
            done, waiting = wait(waiting, timeout=HEARTBEAT, return_when=FIRST_COMPLETED)
            for future in done:
                answers[asked[future]], tally = future.result()
                self._tally.evaluated += tally.evaluated
                self._tally.branches += tally.branches
            self._done = len(answers) / len(loads)
            self._tell(self._tally.evaluated)

    @cached_property
    def _packed(self) -> bytes:
        problem = self._problem
        return pickle.dumps((problem.space, problem.setting, problem.goals.keys, problem.chances))

    def _started(self) -> ProcessPoolExecutor:
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self._workers, context, _enter)
        return self._pool

    def _end(self) -> None:
        if self._pool is None:
            return
        pool, self._pool = self._pool, None
        processes = list((pool._processes or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.kill()
        for process in processes:
            process.join()


_known: dict[bytes, Problem] = {}
"""What a process of a crew works at."""


def _enter() -> None:
    """Begin as a process of a crew: it ends with its parent."""
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


def _do(
    packed: bytes,
    work: Callable[[Problem, _Load, Tally], _Answer],
    load: _Load,
    until: float | None,
) -> tuple[_Answer, Tally]:
    tally = Tally(until=until)
    with np.errstate(all="ignore"):
        if packed not in _known:
            space, setting, keys, chances = pickle.loads(packed)
            _known[packed] = Problem(space, setting, read_goals(keys), chances)
        answer = work(_known[packed], load, tally)
    return answer, tally


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
