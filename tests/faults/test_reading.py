"""Studies and answers that are large, deep, torn, linked, closed to the reader, or that change."""

from __future__ import annotations

import json
import os
import resource
import signal
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from optimise.errors import MOST_FAULTS, RamfrontError, StudyError
from optimise.files import LARGEST_TEXT
from optimise.report.comparing import compare, compare_table
from optimise.search.sweep import sweep
from optimise.study.load import LARGEST_STUDY, load_study
from optimise.study.schema import MOST_ENTRIES, MOST_PARTS
from optimise.study.starter import starter_text
from tests.cli.test_commands import ramfront
from tests.faults.conftest import write_small
from tests.faults.nursery import Nursery
from tests.fuzz.cases import LONGEST_LOAD, run_case
from tests.fuzz.seeds import answer_of, ground, seeds

BOUNDS = {"RLIMIT_CPU": 6, "RLIMIT_AS": 4_000_000_000}
"""Seconds and bytes in which the system lets a command refuse a monster."""


def monsters() -> dict[str, tuple[str, bytes, str]]:
    """File, bytes, and what is said of them."""
    head = b"name,price\n"
    return {
        "a million rows": ("tank.csv", head + b"tank,1\n" * 1_000_000, "more than 2000000 bytes"),
        "a million short rows": ("tank.csv", b"a\n" * 1_000_000, f"more than {MOST_PARTS} parts"),
        "a million blank rows": ("tank.csv", b"\n" * LARGEST_TEXT, "no rows"),
        "one endless cell": ("tank.csv", b"x" * LARGEST_TEXT, "field larger than field limit"),
        "one open quotation mark": ("tank.csv", head + b'"' + b"x\n" * 900_000, "row 2"),
        "as many faults as rows": (
            "tank.csv",
            b"name,price,volume\n" + b"same,-1,2 parsec\n" * MOST_PARTS,
            "more at least; they may come of the same slip",
        ),
        "keys without end": (
            "study.toml",
            b"".join(b"key%d = 1\n" % number for number in range(10_000)),
            "more at least; they may come of the same slip",
        ),
        "tables within tables": (
            "study.toml",
            b"".join(b"[[t%d%b]]\n" % (number, b".b" * 19) for number in range(3_900)),
            "more at least; they may come of the same slip",
        ),
        "a study without end": (
            "study.toml",
            b"#" * (LARGEST_STUDY + 1),
            f"more than {LARGEST_STUDY} bytes",
        ),
    }


@pytest.mark.parametrize("name", monsters())
def test_monsters_are_refused_in_bounded_time_and_memory(
    nursery: Nursery, study: Path, out: Path, name: str
) -> None:
    """Under limits of the system on time and memory: exit 2, the bound named, few lines."""
    file, data, said = monsters()[name]
    folder = write_small(out / "s")
    (folder / file).write_bytes(data)
    ended = nursery.run("check", folder, limits=BOUNDS)
    assert ended.code == 2, ended.err[-500:]
    assert said in ended.err
    assert ended.err.count("\n") <= MOST_FAULTS + 1
    assert len(ended.err) < 200_000


def crowds() -> dict[str, tuple[str, str, str]]:
    """File, what is added to it, and what is said: many entries that look like known ones."""
    names = ", ".join(f'"rodd {number}"' for number in range(9_000))
    limit = '[[user_limits]]\nname = "{0}"\nresult = "force_N"\n{1} = "{2} N"\n'
    wood = '[[wood]]\nname = "kind {0}"\nshare = 1\n'
    columns = starter_text("bore.csv", "planner").splitlines()[0].count(",")
    return {
        "names of no part": ("study.toml", f"[space.only]\nrod = [{names}]\n", "at most 5000"),
        "limits against limits": (
            "study.toml",
            "".join(
                limit.format(number, *(("at_least", 9) if number % 2 else ("at_most", 1)))
                for number in range(2_500)
            ),
            f"more than {MOST_ENTRIES} entries",
        ),
        "buyers of unknown wood": (
            "study.toml",
            "".join(wood.format(number) for number in range(1_000))
            + "".join(f'[[buyers]]\nname = "b{at}"\nwood = "kindd {at}"\n' for at in range(3_000)),
            f"more than {MOST_ENTRIES} entries",
        ),
        "cells, each wrong in its own way": (
            "bore.csv",
            "".join(f"b{number}{f',{number} inhces' * columns}\n" for number in range(4_900)),
            "more at least; they may come of the same slip",
        ),
    }


@pytest.mark.parametrize("name", crowds())
def test_crowds_are_refused_before_each_is_compared_with_all(out: Path, name: str) -> None:
    """Thousands of entries that are nearly right: refused within the time to load any study."""
    file, more, said = crowds()[name]
    folder = write_small(out / "s")
    rods = (folder / "rod.csv").read_text(encoding="utf-8").rstrip("\n")
    first = rods.splitlines()[1].partition(",")[2]
    rods += "".join(f"\nrod {number},{first}" for number in range(3_000))
    (folder / "rod.csv").write_text(rods, encoding="utf-8")
    (folder / file).write_text((folder / file).read_text(encoding="utf-8") + more, encoding="utf-8")
    started = time.process_time()
    with pytest.raises(StudyError) as caught:
        load_study(folder)
    assert said in str(caught.value)
    assert len(caught.value.faults) <= MOST_PARTS + MOST_ENTRIES
    assert time.process_time() - started < LONGEST_LOAD


def test_the_limits_of_the_monsters_bite(nursery: Nursery, study: Path) -> None:
    """Guard of the test above: with no time or no memory a command dies of it."""
    slow = nursery.run("report", study, limits={"RLIMIT_CPU": 1})
    assert slow.code in (-signal.SIGXCPU, -signal.SIGKILL)
    assert resource.RLIM_INFINITY not in BOUNDS.values()


def test_nobody_may_read_it(nursery: Nursery, out: Path) -> None:
    """A file without permission is named with the reason, one line each."""
    folder = write_small(out / "s")
    for file in ("tank.csv", "rod.csv"):
        (folder / file).chmod(0)
    ended = nursery.run("check", folder, stranger=True)
    assert ended.code == 2
    told = {line.split(":")[0] for line in ended.err.splitlines() if "no permission" in line}
    assert told == {str(folder / file) for file in ("rod.csv", "tank.csv")}
    folder.chmod(0)
    ended = nursery.run("check", folder, stranger=True)
    folder.chmod(0o755)
    assert (ended.code, ended.err.count("\n")) == (2, 1)
    assert str(folder) in ended.err


def test_linked_studies_are_the_same_study(study: Path, out: Path) -> None:
    """A linked folder and linked lists read as themselves; a link to nothing or itself is told."""
    plain = load_study(study)
    (out / "linked").symlink_to(study)
    assert load_study(out / "linked").fingerprint == plain.fingerprint
    folder = write_small(out / "s")
    (folder / "tank.csv").unlink()
    (folder / "tank.csv").symlink_to(study / "tank.csv")
    assert load_study(folder).fingerprint == plain.fingerprint
    for target, said in (("nowhere.csv", "no such file"), ("tank.csv", "oo many")):
        (folder / "tank.csv").unlink()
        (folder / "tank.csv").symlink_to(target)
        with pytest.raises(StudyError) as caught:
            load_study(folder)
        assert any(said in fault.found for fault in caught.value.faults)


def test_a_study_that_changes_while_it_is_read(out: Path) -> None:
    """Prices replaced over and over: each load is one state or the other, never a mixture."""
    states = []
    for mark in ("1", "2"):
        folder = write_small(
            out / mark,
        )
        text = (folder / "tank.csv").read_text(encoding="utf-8").splitlines()
        text[1:] = [row + " " * 3000 for row in text[1:]]
        name = text[1].split(",")[0]
        text.append(text[1].replace(name, f"tank of state {mark}"))
        (folder / "tank.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
        states.append((folder / "tank.csv").read_bytes())
    wanted = {load_study(out / mark).fingerprint for mark in ("1", "2")}
    assert len(wanted) == 2
    over = threading.Event()

    def change() -> None:
        turn = 0
        while not over.is_set():
            fresh = out / "fresh"
            fresh.write_bytes(states[turn % 2])
            os.replace(fresh, out / "1" / "tank.csv")  # noqa: PTH105
            turn += 1
            over.wait(0.001)

    changing = threading.Thread(target=change)
    changing.start()
    try:
        seen: set[str] = set()
        for _ in range(300):
            seen.add(load_study(out / "1").fingerprint)
            if seen >= wanted:
                break
    finally:
        over.set()
        changing.join()
    assert seen == wanted


def test_a_study_that_changes_during_a_sweep(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sweep reads the study again for each point; one that changed meanwhile is not mixed."""
    folder = write_small(out / "s")
    words = ("sweep", str(folder), "surroundings.air_temperature=10..30 degC by 10")
    assert ramfront(*words).returncode == 0

    def edited(*asked: Any) -> Any:
        found = sweep(*asked)
        text = (folder / "study.toml").read_text(encoding="utf-8")
        changed = text.replace('stroke = "24 in"', 'stroke = "25 in"')
        assert changed != text
        (folder / "study.toml").write_text(changed, encoding="utf-8")
        return found

    monkeypatch.setattr("optimise.search.sweep.sweep", edited)
    ended = ramfront(*words)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr == f"{folder} changed while it was read; ask again\n"


def test_odd_times_of_files_and_clock(nursery: Nursery, study: Path, out: Path) -> None:
    """Files from 1970 or 2200 and a clock in 1970 or 2106: the same bytes."""
    found = set()
    for number, clock in enumerate((0.0, 4.3e9)):
        folder = out / "small"
        if not folder.exists():
            write_small(folder)
        for file in folder.iterdir():
            os.utime(file, (clock, 7.3e9 - clock))
        place = out / f"o{number}"
        ended = nursery.run("front", folder, "--out", place, clock=clock)
        assert ended.code == 0, ended.err
        found.add((place / "front.csv").read_bytes())
    assert len(found) == 1


def test_torn_and_foreign_answers(study: Path, out: Path) -> None:
    """A saved answer cut anywhere, too deep, or with numbers that are none is refused by name."""
    small = write_small(out / "s")
    whole = answer_of(small)
    path = out / "answer.json"
    path.write_bytes(whole)
    assert len(compare([small, path], (), None).machines) == 2
    foreign = [whole[: len(whole) * share // 23] for share in range(23)]
    foreign += [b"[" * 100_000, b'{"a":' * 100_000, b"null", b"[]", b"{}", b"\xff\xfe", b"\0"]
    answer = json.loads(whole)
    for key, value in (
        *(("fingerprint", 1), ("study", []), ("constants", "x"), ("parts", 1)),
        *(("folder", "x" * 20_000), ("parts", {"rod": "x" * 20_000})),
    ):
        foreign.append(json.dumps({**answer, key: value}).encode())
    foreign += [
        whole.replace(b'"force_N": ', b'"force_N": %b, "x": ' % bad, 1)
        for bad in (b"NaN", b"1e999", b"-Infinity", b"1" + b"0" * 400, b'"x"', b"[]")
    ]
    for data in foreign:
        path.write_bytes(data)
        with pytest.raises(RamfrontError) as caught:
            compare([path, small], (), None)
        assert str(path) in str(caught.value)
        assert path.read_bytes() == data


def test_torn_and_foreign_tables(study: Path, out: Path) -> None:
    """A kept table, CSV or Parquet, cut anywhere or without its stamp is refused by name."""
    small = write_small(out / "s")
    table = compare_table(compare([small, small], (), None))
    text = table.csv
    torn = [text[: len(text) * share // 11].encode() for share in range(11)]
    torn += [
        text.replace("Fingerprint", "Print", 1).encode(),
        b"\xff\xfe",
        b"\0",
        b'"',
        b"a\n1,2\n",
    ]
    whole = table.parquet
    for ending, some in (
        ("csv", torn),
        ("parquet", [whole[: len(whole) * share // 11] for share in range(11)] + torn[:3]),
    ):
        path = out / f"kept.{ending}"
        path.write_bytes(text.encode() if ending == "csv" else whole)
        assert len(compare([small, path], (), None).machines) == 3
        for data in some:
            path.write_bytes(data)
            with pytest.raises(RamfrontError) as caught:
                compare([small, path], (), None)
            assert str(path) in str(caught.value)
            assert path.read_bytes() == data


def test_mutated_studies_and_answers() -> None:
    """Thirty cases of ``python -m tests.fuzz``: the tool's own errors, bounded time and memory."""
    with ground() as place:
        for seed in seeds():
            assert load_study(place.folder(seed)).lists, "what is mutated loads"
        outcomes = [run_case("suite", number, place) for number in range(30)]
    assert [outcome.finding for outcome in outcomes if outcome.finding] == []
    assert {outcome.ended for outcome in outcomes} == {"refused", "answered"}
    assert any(outcome.answer for outcome in outcomes)


def test_readings_far_off_are_refused(out: Path) -> None:
    """A reading off by millions of times is refused by name, and check goes without it."""
    folder = out / "s"
    assert ramfront("new", str(folder)).returncode == 0
    file = folder / "study.toml"
    text = file.read_text(encoding="utf-8")
    for value in ("3950000 s", "1e9 s"):
        file.write_text(text.replace('value = "3.95 s"', f'value = "{value}"'), encoding="utf-8")
        assert value in file.read_text(encoding="utf-8")
        done = ramfront("fit", str(folder), "--json")
        assert (done.returncode, done.stdout) == (2, "")
        assert "retract time" in done.stderr or "retract_time" in done.stderr
        assert "Warning" not in done.stderr
        assert ramfront("check", str(folder), "--json").returncode == 0
