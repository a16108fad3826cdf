"""Kills ``front`` and ``report`` at random moments and looks at what is left.

Run ``python -m tests.kills N [SEED]``. The commands run for real in processes forked after the
imports, on a small study. Half of the kills (SIGKILL) are spread over a whole command; the others
over the part of it that writes, which is short, in processes forked just before the first file is
written. After each kill every result must be the old one or the new one, whole. The run after a
kill that hit the writing, and after each five others, must leave the bytes of an undisturbed run in
an empty folder and nothing else. Exit code 1 where that does not hold.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.conftest import write_small
from tests.faults.nursery import Nursery, held

RESULTS = {"front": ("front.csv",), "report": ("front.csv", "report.html")}
LONGEST = {"front": 1.0, "report": 4.0}
"""About how long a command takes, s; kills come in that time."""
SERIES = 5
OLD = hashlib.sha256(b"old").hexdigest()


@dataclass
class Tally:
    """How kills ended, by command and moment, and what was found that should not be."""

    ends: Counter[str] = field(default_factory=Counter)
    findings: list[str] = field(default_factory=list)

    def kill(self, moment: str, wanted: dict[str, str], files: dict[str, str], died: bool) -> None:
        """Look at what one kill left."""
        states = [
            {OLD: "old", wanted[name]: "new"}.get(files.get(name, ""), "broken") for name in wanted
        ]
        parts = sum(name.endswith(".part") for name in files.keys() - wanted.keys())
        strangers = len(files.keys() - wanted.keys()) - parts
        self.ends[f"{moment}: {'killed' if died else 'ended before'}, {' and '.join(states)}"] += 1
        self.ends["parts left by a kill"] += died and moment.endswith("writing") and parts > 0
        if "broken" in states or strangers:
            self.findings.append(f"{moment}: {states}, {sorted(files)}")

    def whole(self, moment: str, wanted: dict[str, str], files: dict[str, str], code: int) -> None:
        """Look at what a whole run after kills left."""
        self.ends[f"{moment}: whole runs after kills"] += 1
        if code or files != wanted:
            self.findings.append(f"{moment}: next run ended {code} and left {sorted(files)}")


def series(
    nursery: Nursery, study: Path, out: Path, command: str, kills: tuple[int, int], seed: str
) -> Tally:
    """So many kills over a whole command, a whole run, and so many kills while it writes."""
    tally, chance, names = Tally(), random.Random(seed), RESULTS[command]
    left: list[tuple[dict[str, str], bool]] = []
    for _ in range(kills[0]):
        for name in names:
            (out / name).write_text("old", encoding="utf-8")
        child = nursery.start(command, study, "--out", out)
        time.sleep(chance.uniform(0.0, LONGEST[command]))
        os.kill(child["pid"], signal.SIGKILL)
        code = nursery.finish(child).code
        left.append((held(out), code == -signal.SIGKILL))
    ended = nursery.run(
        *(command, study, "--out", out), kills=kills[1], seed=seed, keep=str(out), old=names
    )
    after, undisturbed, *others = json.loads(ended.calls)
    wanted = undisturbed["files"]
    if undisturbed["code"] or sorted(wanted) != sorted(names):
        tally.findings.append(f"{command}: undisturbed, yet {undisturbed} {ended.err}")
    tally.whole(f"{command}, any moment", wanted, after["files"], after["code"])
    for files, died in left:
        tally.kill(f"{command}, any moment", wanted, files, died)
    for one in others:
        moment = f"{command}, writing"
        if one["killed"]:
            tally.kill(moment, wanted, one["files"], one["code"] == -signal.SIGKILL)
        else:
            tally.whole(moment, wanted, one["files"], one["code"])
    return tally


def main(words: list[str]) -> int:
    """Kill so many times and print how it ended."""
    count, seed = int(words[0]), words[1] if len(words) > 1 else "0"
    total, started = Tally(), time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        desk = Path(name)
        study, out = write_small(desk / "small"), desk / "out"
        out.mkdir()
        nursery = Nursery(desk)
        done = 0
        while done < count:
            command = ("front", "report")[done // (2 * SERIES) % 2]
            now = min(2 * SERIES, count - done)
            kills = (now - now // 2, now // 2)
            found = series(nursery, study, out, command, kills, f"{seed}:{done}")
            for file in out.iterdir():
                file.unlink()
            total.ends.update(found.ends)
            total.findings += found.findings
            done += now
        nursery.close()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(
        f"{done} kills in {time.monotonic() - started:.0f} s, "
        f"{used.ru_utime + used.ru_stime:.0f} s of processor"
    )
    for end, often in sorted(total.ends.items()):
        print(f"{often:6} {end}")
    print("\n".join(total.findings[:20]) or "nothing found")
    return int(bool(total.findings))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
