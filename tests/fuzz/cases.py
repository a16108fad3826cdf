"""One case: what is changed, what came of it, and what it took."""

from __future__ import annotations

import io
import json
import pickle
import random
import re
import resource
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.console import Console

from optimise.errors import RamfrontError
from optimise.report.comparing import compare, compare_answer, compare_table, print_compare
from optimise.report.saved import read_saved
from optimise.study import load
from optimise.study.load import load_study
from optimise.study.places import parse_toml
from optimise.study.pricelists import RawList, read_list
from optimise.units import System
from tests.fuzz.mutators import changes, mutated
from tests.fuzz.seeds import ANSWER, LISTS, STUDY, Ground, Seed, answer_of, seeds

LONGEST_LOAD = 2.0
"""Longest time to load any study, s of this process."""
MOST_MEMORY = 500_000_000
"""Largest growth of the process in one case, bytes."""
_GIVEN_UP = 60.0
_PAGE = resource.getpagesize()
_KB = 1 if sys.platform == "darwin" else 1024


class GivenUp(BaseException):
    """A case went on for far too long; nothing that catches errors may catch this."""


@dataclass(frozen=True)
class Finding:
    """What one case did that it should not: case, files changed, and what came of it."""

    case: str
    changed: tuple[str, ...]
    told: str


@dataclass(frozen=True)
class Outcome:
    """How a case ended (refused, answered or a finding), of what, the time to load, the memory."""

    ended: str
    answer: bool
    seconds: float
    grown: int
    finding: Finding | None


def _changed(
    chance: random.Random, ground: Ground, seed: Seed
) -> tuple[dict[str, bytes], list[str]]:
    """One or two files of a study, or a saved answer, changed; and the words of ``--set``."""
    if chance.random() < 0.125:
        return {ANSWER: mutated(chance, ground.answer(seed), "json")}, []
    files: dict[str, bytes] = {}
    for _ in range(chance.choice((1, 1, 1, 2))):
        name = STUDY if chance.random() < 0.6 else chance.choice(LISTS)
        files[name] = mutated(chance, seed.files[name], name.rpartition(".")[2])
    return files, changes(chance)


@contextmanager
def _alarm() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise GivenUp(f"given up after {_GIVEN_UP:g} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, _GIVEN_UP)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def _memory() -> int:
    """Memory of this process now, bytes."""
    return int(Path("/proc/self/statm").read_bytes().split()[1]) * _PAGE


def _peak() -> int:
    """The most memory of this process so far, bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * _KB


def _forget_peak() -> None:
    """Count the most memory from here on."""
    Path("/proc/self/clear_refs").write_text("5", encoding="utf-8")


def check(folder: Path, sets: list[str], loaded: list[float], whole: Callable[[int], bool]) -> str:
    """Load and check, or compare, as the command does; "" or the tool's own words."""
    if (folder / ANSWER).exists():
        return compared(folder) if whole(40) else _saved(folder)
    started = time.process_time()
    try:
        load_study(folder, sets)
    except RamfrontError as error:
        return str(error)
    finally:
        loaded.append(time.process_time() - started)
    if not whole(500):
        return ""
    try:
        answer = answer_of(folder, sets)
    except RamfrontError as error:
        return str(error)
    json.loads(answer)
    return ""


def compared(folder: Path) -> str:
    """Compare a study with the saved answer in its folder; "" or the tool's own words."""
    try:
        found = compare([folder, folder / ANSWER], (), None)
    except RamfrontError as error:
        return str(error)
    json.dumps(compare_answer(found), allow_nan=False)
    print_compare(Console(file=io.StringIO(), width=80), found)
    compare_table(found).csv.encode("utf-8")
    return ""


def unprintable(words: str) -> str:
    """Complaint about words that would not print as they are; "" for others."""
    if all(line.isprintable() for line in words.split("\n")):
        return ""
    return f"a message that does not print: {words[:200]!r}"


def _saved(folder: Path) -> str:
    try:
        read_saved(folder / ANSWER)
    except RamfrontError as error:
        return str(error)
    return ""


class Remembered:
    """What a case left alone is read once and for all, by the code that reads it else.

    Lists are handed out as they are; that nobody changes them is held at the end.
    """

    def __init__(self) -> None:
        self.changed: frozenset[str] = frozenset()
        self._lists: dict[tuple[Path, str, System], RawList] = {}
        self._as_read: dict[tuple[Path, str, System], bytes] = {}
        self._documents: dict[str, bytes] = {}

    def _list(self, folder: Path, category: str, system: System) -> RawList:
        if f"{category}.csv" in self.changed:
            return read_list(folder, category, system)
        key = (folder, category, system)
        if key not in self._lists:
            self._lists[key] = read_list(folder, category, system)
            self._as_read[key] = pickle.dumps(self._lists[key])
        return self._lists[key]

    def _document(self, text: str, path: str) -> dict[str, Any]:
        if STUDY in self.changed:
            return parse_toml(text, path)
        if text not in self._documents:
            self._documents[text] = pickle.dumps(parse_toml(text, path))
        document: dict[str, Any] = pickle.loads(self._documents[text])
        return document

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Load studies with what is remembered."""
        load.read_list, load.parse_toml = self._list, self._document
        try:
            yield
        finally:
            load.read_list, load.parse_toml = read_list, parse_toml
        for key, listed in self._lists.items():
            assert listed == pickle.loads(self._as_read[key]), f"{key} was changed by a reader"


def case_of(seed: str, number: int, ground: Ground) -> tuple[Seed, dict[str, bytes], list[str]]:
    """Study, changed files and words of ``--set`` of a case."""
    chance = random.Random(f"{seed}:{number}")
    start = chance.choices(seeds(), [one.weight for one in seeds()])[0]
    return (start, *_changed(chance, ground, start))


@dataclass
class Judged:
    """What a piece of work did that it should not, and what it took."""

    told: str = ""
    words: str = ""
    grown: int = 0


def judged(work: Callable[[], str]) -> Judged:
    """Do a piece of work that gives "" or the tool's own words, and tell what is wrong with it."""
    _forget_peak()
    before = _memory()
    found = Judged()
    with warnings.catch_warnings(), _alarm():
        warnings.simplefilter("error")
        try:
            found.words = work()
        except (Exception, GivenUp):
            found.told = traceback.format_exc()
    found.grown = _peak() - before
    found.told = found.told or unprintable(found.words)
    if not found.told and found.grown > MOST_MEMORY:
        found.told = f"{found.grown / 1e6:.0f} MB more"
    return found


def too_long(seconds: float) -> str:
    """Complaint about the time to load a study; "" where it is in order."""
    return f"{seconds:.1f} s to load" if seconds > LONGEST_LOAD else ""


def run_case(
    seed: str, number: int, ground: Ground, remembered: Remembered | None = None
) -> Outcome:
    """Run one case and say how it ended."""
    start, files, sets = case_of(seed, number, ground)
    loaded: list[float] = []
    if remembered is not None:
        remembered.changed = frozenset(files)
    with ground.changed(start, files) as folder:
        found = judged(
            lambda: check(folder, sets, loaded, lambda often: not remembered or number % often == 0)
        )
    seconds = loaded[0] if loaded else 0.0
    told = found.told or too_long(seconds)
    finding = Finding(f"{seed}:{number}", (start.name, *files, *sets), told) if told else None
    ended = "finding" if told else "refused" if found.words else "answered"
    return Outcome(ended, ANSWER in files, seconds, found.grown, finding)


def kind_of(finding: Finding) -> str:
    """Last words of a finding without its numbers, to count those of one kind."""
    return re.sub(r"[\d.]+", "N", finding.told.strip().splitlines()[-1])[:100]
