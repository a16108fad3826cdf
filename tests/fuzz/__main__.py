"""Runs cases and prints what was found."""

from __future__ import annotations

import faulthandler
import gc
import resource
import sys
import time
from collections import Counter
from contextlib import nullcontext
from pathlib import Path

from tests.fuzz.cases import Outcome, Remembered, case_of, kind_of, run_case
from tests.fuzz.seeds import ground

_ROOM = 3_000_000_000
_SAID_EVERY = 20_000
_DEAD = 900.0


def _bound_memory() -> None:
    """Let the system refuse this process what no case should ask for."""
    taken = int(Path("/proc/self/statm").read_bytes().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (taken + _ROOM, resource.RLIM_INFINITY))


def _one(seed: str, number: int) -> int:
    """Run one case and leave its files."""
    folder = Path(f"fuzz-{seed}-{number}")
    with ground() as place:
        start, files, sets = case_of(seed, number, place)
        folder.mkdir()
        for name, data in {**start.files, **files}.items():
            (folder / name).write_bytes(data)
        outcome = run_case(seed, number, place)
    print(f"{outcome.ended}; files in {folder}; --set {sets}")
    print(outcome.finding.told if outcome.finding else "")
    return int(outcome.finding is not None)


class _Tally:
    """What many cases came to."""

    def __init__(self, seed: str) -> None:
        self.seed = seed
        self.answers = 0
        self.ends: Counter[str] = Counter()
        self.kinds: Counter[str] = Counter()
        self.longest, self.largest = (0.0, 0), (0, 0)
        self.started, self.ran = time.monotonic(), time.process_time()

    def count(self, number: int, outcome: Outcome) -> None:
        """Add a case; print the first two findings of a kind."""
        self.ends[outcome.ended] += 1
        self.answers += outcome.answer
        self.longest = max(self.longest, (outcome.seconds, number))
        self.largest = max(self.largest, (outcome.grown, number))
        finding = outcome.finding
        if finding is None:
            return
        kind = kind_of(finding)
        self.kinds[kind] += 1
        if self.kinds[kind] <= 2:
            print(f"--- {finding.case} {', '.join(map(ascii, finding.changed))}"[:300])
            print(finding.told[-2500:], flush=True)

    def say(self) -> None:
        """One line on all cases so far."""
        print(
            f"{self.ends.total() - self.answers} cases of studies and lists and "
            f"{self.answers} of answers, seed {self.seed}, "
            f"{time.monotonic() - self.started:.0f} s ({time.process_time() - self.ran:.0f} s of "
            f"processor): {dict(self.ends)}; longest load {self.longest[0]:.2f} s "
            f"(case {self.longest[1]}), most memory {self.largest[0] / 1e6:.0f} MB "
            f"(case {self.largest[1]})",
            flush=True,
        )


def _many(count: int, seed: str, remembered: Remembered | None) -> int:
    tally = _Tally(seed)
    with ground() as place, remembered.reading() if remembered else nullcontext():
        for number in range(count):
            if number % 1_000 == 0:
                faulthandler.dump_traceback_later(_DEAD, exit=True)
            if number == 200:
                gc.freeze()
            tally.count(number, run_case(seed, number, place, remembered))
            if (number + 1) % _SAID_EVERY == 0:
                tally.say()
    faulthandler.cancel_dump_traceback_later()
    tally.say()
    for kind, often in tally.kinds.most_common():
        print(f"{often} x {kind}")
    return int(bool(tally.kinds))


def main(words: list[str]) -> int:
    """Run what the words ask for."""
    if words[0] == "--guided":
        from tests.fuzz.guided import guided

        return guided(float(words[1]), words[2:])
    quick = words[0] == "--load"
    words = words[quick:]
    _bound_memory()
    seed, _, one = (words[1] if len(words) > 1 else "0").partition(":")
    if one:
        return _one(seed, int(one))
    return _many(int(words[0]), seed, Remembered() if quick else None)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
