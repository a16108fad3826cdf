"""Shares of a search done one after another, or by a pool; a share lost is done again.

What a share gives hangs on the share alone, so that answers are the same for any number of
processes and computers, and whoever dies on the way.
"""

from __future__ import annotations

import pickle
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TypeVar

import numpy as np

from optimise.errors import CallError
from optimise.search.goals import read_goals
from optimise.search.kept_shares import KeptShares, asked_of
from optimise.search.pools import LostError, Pool, Processes
from optimise.search.problem import Problem, Progress, Tally

HEARTBEAT = 0.5
"""Seconds after which a wait for a share tells that it goes on."""
MOST_LOST = 3
"""Pools that may be lost; what is left then is done by this process."""

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
    cluster
        Address of a dask scheduler whose workers share it instead; "" for none.
    note
        Told, in a sentence, of what was lost on the way and is done again.
    store
        File in which shares that are done are kept, to be gone on with; None keeps none.
    """

    workers: int = 1
    seconds: float | None = None
    cluster: str = ""
    note: Callable[[str], None] | None = None
    store: Path | None = None

    @property
    def alone(self) -> bool:
        """Whether this process does all."""
        return self.workers == 1 and not self.cluster


ALONE = Effort()


class Crew:
    """Who works at a problem: this process and a pool.

    Parameters
    ----------
    problem
        Given to whatever they do.
    effort
        Who is in the pool, and how long they work.
    tally
        Counts what all of them do; they stop when its time is over.
    progress
        Called with words and a share now and then.
    """

    def __init__(
        self, problem: Problem, effort: Effort, tally: Tally, progress: Progress | None
    ) -> None:
        self._problem = problem
        self._effort = effort
        self._tally = tally
        self._progress = progress
        self._pool: Pool | None = None
        self._lost = 0
        self._words, self._low, self._high, self._done = "", 0.0, 1.0, 0.0
        tally.tell = self._tell

    def __enter__(self) -> Crew:
        """Whoever is in the pool comes with the first shares."""
        return self

    def meet(self) -> None:
        """Refuse a cluster that is not there before any work."""
        if self._effort.cluster:
            try:
                self._started()
            except LostError as lost:
                raise CallError(str(lost)) from None

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the pool go."""
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
        """Answers to shares, in their order; those that are kept are not worked out again."""
        asked = [""] * len(loads)
        answers: dict[int, _Answer] = {}
        if self._kept is not None:
            asked = [asked_of(self._packed, work.__name__, load) for load in loads]
            for nth in range(len(loads)):
                self._find(asked[nth], nth, answers)
        while not self._effort.alone and len(loads) - len(answers) > 1 and self._lost < MOST_LOST:
            try:
                self._ask(work, loads, asked, answers)
            except LostError as lost:
                self._lose(str(lost))
        for nth, load in enumerate(loads):
            if nth not in answers and not self._find(asked[nth], nth, answers):
                before = Tally(self._tally.evaluated, self._tally.branches)
                answers[nth] = work(self._problem, load, self._tally)
                spent = Tally(
                    self._tally.evaluated - before.evaluated, self._tally.branches - before.branches
                )
                self._keep(asked[nth], answers[nth], spent)
                self._done = len(answers) / len(loads)
        return [answers[nth] for nth in range(len(loads))]

    @cached_property
    def _kept(self) -> KeptShares | None:
        store, problem = self._effort.store, self._problem
        if store is None:
            return None
        return KeptShares(store, pickle.dumps((problem.space, problem.setting)))

    def _find(self, asked: str, nth: int, answers: dict[int, _Answer]) -> bool:
        """Whether the answer to a share is kept; it is put to the others then."""
        found = None if self._kept is None else self._kept.find(asked)
        if found is None:
            return False
        answers[nth] = found[0]
        self._count(found[1])
        return True

    def _keep(self, asked: str, answer: object, spent: Tally) -> None:
        if self._kept is not None:
            self._kept.keep(asked, answer, spent)

    def _count(self, spent: Tally) -> None:
        self._tally.evaluated += spent.evaluated
        self._tally.branches += spent.branches

    def _ask(
        self,
        work: Callable[[Problem, _Load, Tally], _Answer],
        loads: Sequence[_Load],
        digests: Sequence[str],
        answers: dict[int, _Answer],
    ) -> None:
        """Have the shares done that have no answer: as many at a time as there is room for.

        So none waits where its time runs and its clock is another.
        """
        pool = self._started()
        left = [nth for nth in range(len(loads)) if nth not in answers]
        asked: dict[Future[tuple[_Answer, Tally]], int] = {}
        while left or asked:
            for nth in left[: max(0, pool.room() - len(asked))]:
                future = pool.submit(_do, self._packed, work, loads[nth], self._seconds_left())
                asked[future] = nth
                left.remove(nth)
            done, _ = wait(asked, timeout=HEARTBEAT, return_when=FIRST_COMPLETED)
            if not asked:
                time.sleep(HEARTBEAT)
            for future in done:
                nth = asked.pop(future)
                answers[nth], spent = pool.answer(future)
                self._count(spent)
                self._keep(digests[nth], answers[nth], spent)
            self._done = len(answers) / len(loads)
            self._tell(self._tally.evaluated)

    def _seconds_left(self) -> float | None:
        until = self._tally.until
        return None if until is None else until - time.monotonic()

    @cached_property
    def _packed(self) -> bytes:
        problem = self._problem
        return pickle.dumps((problem.space, problem.setting, problem.goals.keys, problem.chances))

    def _started(self) -> Pool:
        if self._pool is None:
            if self._effort.cluster:
                from optimise.search.cluster import Cluster  # noqa: PLC0415

                self._pool = Cluster(self._effort.cluster)
            else:
                self._pool = Processes(self._effort.workers)
        return self._pool

    def _lose(self, why: str) -> None:
        """Do without the pool; a pool that cannot be had again is the last."""
        self._lost = self._lost + 1 if self._pool is not None else MOST_LOST
        self._end()
        if self._effort.note is not None:
            others = "this process" if self._lost >= MOST_LOST else "others"
            self._effort.note(
                f"{why}; {others} will do again what was lost, the answer is the same"
            )

    def _end(self) -> None:
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.end()


_known = threading.local()
"""What a thread of a pool works at: the bytes that it came in, and the problem."""


def _do(
    packed: bytes,
    work: Callable[[Problem, _Load, Tally], _Answer],
    load: _Load,
    seconds: float | None,
) -> tuple[_Answer, Tally]:
    tally = Tally(until=None if seconds is None else time.monotonic() + seconds)
    with np.errstate(all="ignore"):
        if getattr(_known, "packed", None) != packed:
            space, setting, keys, chances = pickle.loads(packed)
            _known.problem = Problem(space, setting, read_goals(keys), chances)
            _known.packed = packed
        answer = work(_known.problem, load, tally)
    return answer, tally
