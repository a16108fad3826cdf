"""The search as a call: with a chance, for a time, by several processes."""

from __future__ import annotations

import contextlib
import dataclasses
import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from optimise.machine.parts import CATEGORIES
from optimise.report import text
from optimise.search import exact, sureness
from optimise.search.front import find_front
from optimise.search.kept_shares import KeptShares
from optimise.search.problem import Tally
from optimise.study.load import load_study
from optimise.study.space import searched_space
from tests.broken import torn
from tests.cli.test_commands import ROOT, STUDIES, answer, ramfront

SEARCHED = ("pump", "rod", "return_hose", "tank")
"""Categories that are searched; all others are kept, to save time."""
LIVES = 3
"""Times that a search is begun, the last of which ends it."""


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the demonstrations, their search cut down to a few categories."""
    folder = tmp_path_factory.mktemp("few")
    kept = json.dumps([category for category in CATEGORIES if category not in SEARCHED])
    for name in STUDIES:
        (folder / name).mkdir()
        for file in (ROOT / "studies" / name).iterdir():
            text = file.read_text(encoding="utf-8")
            (folder / name / file.name).write_text(
                text.replace("keep = []", f"keep = {kept}"), encoding="utf-8"
            )
    return folder


def timeless(found: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in found.items() if key != "seconds"}


@pytest.mark.parametrize("name", STUDIES)
def test_sure_gives_the_front_of_the_machines_that_are_sure(name: str, few: Path) -> None:
    plain, found = (
        answer("front", str(few / name)),
        answer("front", str(few / name), "--sure", "0.9"),
    )
    assert found["proven"] is True
    assert found["why_not_proven"] == ""
    assert found["sure"]["chance"] == 0.9
    assert (found["sure"]["draws"], found["sure"]["draws_needed"]) == (128, 116)
    assert found["designs"]
    for design in found["designs"]:
        assert design["probability"]["all_hard_limits"] >= 0.9
        assert design["limits_min_margin"] >= 0.0
    listed = [design["parts"] for design in found["designs"]]
    for design in plain["designs"]:
        if design["probability"]["all_hard_limits"] >= 0.9:
            assert design["parts"] in listed
    assert listed != [design["parts"] for design in plain["designs"]]
    words = " ".join(ramfront("front", str(few / name), "--sure", "0.9", cwd=few).stdout.split())
    assert "in 90 % or more of 128 draws" in words
    assert "proven: no other such machine" in words


def test_who_stands_for_whom_is_said_and_how_to_get_the_whole_where_it_is_not_listed(
    few: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = load_study(few / "kvarnby")
    space = searched_space(study)
    found = find_front(space, study.setting)

    def told(near: tuple[float, float] | None = None) -> str:
        console = Console(file=io.StringIO(), markup=False)
        text.print_front(console, study, space, found, near=near)
        return " ".join(console.file.getvalue().split())  # type: ignore[attr-defined]

    assert "They follow." in told()
    assert "lists all" not in told()
    alone = "None of them stands for another: each is stronger, quicker or cheaper than any other."
    assert alone in told((0.0, 0.0))
    one = "One of them stands for all: none that it stands for is stronger, more than 1000 s"
    assert f"{one} quicker or more than 50 % of its price cheaper." in told((1000.0, 0.5))
    few_of_them = "of them stand for all: none that they stand for is stronger, quicker or more"
    assert few_of_them in told((0.0, 0.05))
    monkeypatch.setattr(text, "SHOWN_DESIGNS", 1)
    assert '1 of these follow; --apart "0.05 s, 2 %" lists all.' in told()
    owned = {category: (name,) for category, name in study.owned.items()}
    space = searched_space(dataclasses.replace(study, allowed=owned))
    found = find_front(space, study.setting)
    assert "One of them is worth a look; it alone is the front (proven: " in told()
    assert "stands for" not in told()


def test_a_chance_that_no_machine_has_is_said_and_proven(few: Path) -> None:
    call = (
        "front",
        str(few / "kvarnby"),
        "--sure",
        "1",
        "--set",
        "limits.work_velocity.bound=2 m/s",
    )
    found = answer(*call)
    assert found["designs"] == []
    assert found["proven"] is True
    done = ramfront(*call, cwd=few)
    assert done.returncode == 0
    assert "No machine of these lists is as sure as that: proven." in done.stdout


def test_a_time_that_is_over_gives_what_was_found_and_says_so(few: Path) -> None:
    call = ("front", str(few / "alder-yard"), "--within", "1 ms")
    found = answer(*call)
    assert found["proven"] is False
    why = "the search was stopped after 0.001 s, with 0 % of the list gone through"
    assert found["why_not_proven"].startswith(why)
    assert "best of 20,000 machines taken at random" in found["why_not_proven"]
    assert found["designs"]
    assert all(design["limits_min_margin"] >= 0.0 for design in found["designs"])
    words = " ".join(ramfront(*call, cwd=few).stdout.split())
    assert f"together they are the best found so far (not proven: {why}" in words
    assert "proven: no other" not in words
    none = ramfront(*call, "--sure", "0.9", cwd=few)
    words = " ".join(none.stdout.split())
    assert f"None that is asked for was found; not proven: {why}." in words


def test_a_time_that_is_enough_changes_nothing(few: Path) -> None:
    whole, given = (
        timeless(answer("front", str(few / "kvarnby"), *more)) for more in ((), ("--within", "1 h"))
    )
    assert whole == given


@pytest.mark.parametrize("words", ["20", "soon", "0 s", "-1 s", "3 kg"])
def test_a_time_needs_a_unit_and_is_above_nothing(words: str) -> None:
    done = ramfront("front", "studies/kvarnby", "--within", words)
    assert done.returncode == 2
    assert "--within" in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("name", "more"),
    [("alder-yard", ()), ("kvarnby", ("--sure", "0.9"))],
    ids=["plain", "sure"],
)
def test_any_number_of_processes_gives_the_same_answer(
    name: str, more: tuple[str, ...], few: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Shares are made small, so that a short list has some; tables are the same bytes too.

    How sure the machines are is worked out in one share at first.
    """
    monkeypatch.setattr(exact, "SHARE", 8)
    monkeypatch.setattr(exact, "SURE_SHARE", 4)
    found = []
    for number, share in (("1", sureness.SHARE), ("2", 2), ("3", 1)):
        monkeypatch.setattr(sureness, "SHARE", share)
        call = ("front", str(few / name), *more, "--workers", number, "--json", "--out", "found")
        done = ramfront(*call, cwd=few)
        assert done.returncode == 0, done.stderr
        table = (few / "found" / "front.csv").read_bytes()
        found.append((timeless(json.loads(done.stdout)), table))
    assert found[0] == found[1] == found[2]
    assert len(found[0][0]["designs"]) > 1


@pytest.mark.parametrize("more", [(), ("--sure", "0.9")], ids=["plain", "sure"])
def test_a_kept_search_goes_on_where_it_was_stopped(
    more: tuple[str, ...], few: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped after one share and another by what nothing catches; the same bytes at the end."""
    monkeypatch.setattr(exact, "SHARE", 8)
    monkeypatch.setattr(exact, "SURE_SHARE", 4)
    call = ("front", str(few / "kvarnby"), *more, "--json")
    alone = timeless(answer(*call))
    store = ("--store", str(tmp_path / "kept.db"))
    keep, kept = KeptShares.keep, list[str]()

    class Killed(BaseException):
        pass

    def keep_and_die(self: KeptShares, asked: str, found: object, tally: Tally) -> None:
        keep(self, asked, found, tally)
        kept.append(asked)
        if len(kept) < LIVES:
            raise Killed

    monkeypatch.setattr(KeptShares, "keep", keep_and_die)
    for _ in range(LIVES - 1):
        with pytest.raises(Killed):
            ramfront(*call, *store)
    found = timeless(answer(*call, *store))
    assert found == alone
    assert len(kept) == len(set(kept)) >= LIVES
    whole = len(kept)
    assert timeless(answer(*call, *store, "--workers", "2")) == alone
    assert len(kept) == whole


def test_a_store_of_another_study_or_kind_is_refused(few: Path, tmp_path: Path) -> None:
    store = tmp_path / "kept.db"
    call = ("front", str(few / "kvarnby"), "--json", "--store", str(store))
    assert ramfront(*call).returncode == 0
    other = ramfront(*call, "--set", "oil.grade=68")
    assert (other.returncode, other.stdout) == (2, "")
    assert "another study, --set, price list or version; name another file" in other.stderr
    with contextlib.closing(sqlite3.connect(store)) as base, base:
        for asked, share in base.execute("select asked, answer from shares").fetchall():
            garbled = share[:80] + b"\xff" * 20 + share[100:]
            base.execute("update shares set answer = ? where asked = ?", (garbled, asked))
    odd = ramfront(*call)
    assert (odd.returncode, odd.stdout) == (2, "")
    assert "a share in it is torn; move it away or name another file" in odd.stderr
    store.write_bytes(b"no database " * 100)
    words = ramfront(*call)
    assert (words.returncode, words.stdout) == (2, "")
    assert "file is not a database; move it away or name another file" in words.stderr
    with contextlib.closing(sqlite3.connect(tmp_path / "other.db")) as base:
        base.execute("create table studies (number integer)")
    strange = ramfront(*call[:-1], str(tmp_path / "other.db"))
    assert strange.returncode == 2
    assert "holds something else, such as a search with ranges" in strange.stderr


def test_a_store_that_is_torn_meanwhile_is_told_at_once(
    few: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = tmp_path / "kept.db"
    call = ("front", str(few / "kvarnby"), "--json", "--store", str(store))
    keep = KeptShares.keep

    def keep_in_ruins(self: KeptShares, *share: Any) -> None:
        store.write_bytes(torn(store.read_bytes()))
        keep(self, *share)

    monkeypatch.setattr(KeptShares, "keep", keep_in_ruins)
    done = ramfront(*call)
    said = f"--store {store} cannot be used: database disk image is malformed; move it away or"
    assert (done.returncode, done.stdout, said in done.stderr) == (2, "", True)


def children(pid: int) -> list[int]:
    """Processes of a crew: not the tracker of shared resources that comes with it."""
    found = []
    for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split():
        words = Path(f"/proc/{child}/cmdline").read_bytes()
        if b"spawn_main" in words:
            found.append(int(child))
    return found


def started(*words: str) -> subprocess.Popen[str]:
    """A command of its own, which heeds an interrupt also where the tests run in the background."""
    return subprocess.Popen(
        ["env", "--default-signal=INT", sys.executable, "-m", "optimise", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )


def crew_of(process: subprocess.Popen[str]) -> list[int]:
    while process.poll() is None:
        with_crew = children(process.pid)
        if len(with_crew) == 2:
            return with_crew
        time.sleep(0.02)
    raise AssertionError("ended before it had a crew")


def gone(pid: int) -> bool:
    for _ in range(500):
        if not Path(f"/proc/{pid}").exists():
            return True
        time.sleep(0.02)
    return False


def test_a_killed_process_loses_nothing() -> None:
    """Its share, and what fell with it, is done again: the same answer as by one alone."""
    call = ("front", "studies/kvarnby", "--json")
    process = started(*call, "--workers", "2")
    killed = crew_of(process)[0]
    os.kill(killed, signal.SIGKILL)
    out, err = process.communicate()
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert timeless(json.loads(out)) == timeless(answer(*call[:-1]))


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_a_search_that_is_ended_leaves_no_process_behind(sign: signal.Signals) -> None:
    process = started("front", "studies/alder-yard", "--sure", "0.9", "--workers", "2", "--json")
    crew = crew_of(process)
    os.kill(process.pid, sign)
    out, err = process.communicate()
    assert process.returncode in (130, 143, -signal.SIGKILL)
    assert out == ""
    assert "Traceback" not in err
    assert all(gone(pid) for pid in crew)
