"""Processes that die, disks that are full and folders that refuse, while results are written."""

from __future__ import annotations

import ctypes
import errno
import hashlib
import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.faults.conftest import write_small
from tests.faults.nursery import Nursery
from tests.kills import series

FAULTS = [
    {"name": "killed", "signal": signal.SIGKILL},
    {"name": "full", "errno": errno.ENOSPC},
    {"name": "ended", "signal": signal.SIGTERM, "after": True},
    {"name": "stopped", "signal": signal.SIGINT},
]
CODES = {"killed": {-9}, "ended": {143}, "stopped": {130}}
OLD = hashlib.sha256(b"old").hexdigest()
MOUNT_FLAGS = {"ro": 1, "remount": 32}


def waited(found: Callable[[], set[Path]]) -> set[Path]:
    """What comes to be there within ten seconds."""
    given_up = time.monotonic() + 10.0
    while not (there := found()) and time.monotonic() < given_up:
        time.sleep(0.01)
    return there


@pytest.mark.parametrize(
    ("words", "names", "faults"),
    [
        (("front", "--parquet"), ("front.csv", "front.parquet"), FAULTS),
        (("report",), ("front.csv", "report.html"), FAULTS[:2]),
    ],
)
def test_every_call_of_a_command_may_fail(
    nursery: Nursery,
    study: Path,
    out: Path,
    words: tuple[str, ...],
    names: tuple[str, str],
    faults: list[dict[str, Any]],
) -> None:
    """Each file old or new and none beside it; only a kill may leave one hidden part."""
    command, *options = words
    ended = nursery.run(
        *(command, study, *options, "--out", out),
        kinds=faults, keep=str(out), old=names, calls=18,
    )  # fmt: skip
    cases = json.loads(ended.calls)
    new = next(case["files"] for case in cases if case["code"] == 0)
    assert sorted(new) == sorted(names)
    assert OLD not in new.values()
    for case in cases:
        told = f"{case['kind']} at call {case['at']}: {case}"
        left = {name: found for name, found in case["files"].items() if name not in names}
        for name in names:
            assert case["files"][name] in (OLD, new[name]), told
        first, second = (case["files"][name] == new[name] for name in names)
        assert first or not second, told
        if case["code"] == 0:
            assert first, told
            assert second, told
        assert "Traceback" not in case["err"], told
        if "killed" in case["kind"]:
            assert all(name.endswith(".part") for name in left), told
            assert len(left) <= 1, told
        else:
            assert not left, told
        if case["kind"] in CODES:
            assert case["code"] in CODES[case["kind"]] | {0}, told
            assert ("stopped; files named" in case["err"]) == (case["code"] == 130), told
        elif case["code"]:
            assert case["code"] == 1, told
            assert "cannot write" in case["err"], told
        assert ("written: " in case["err"]) <= first or case["code"] < 0, told
    for kind in faults:
        codes = [case["code"] for case in cases if case["kind"] == kind["name"]]
        assert sum(code != 0 for code in codes) >= 8, kind


@pytest.mark.parametrize(("command", "kills"), [("front", (4, 8)), ("report", (1, 7))])
def test_killed_at_any_moment(
    nursery: Nursery, study: Path, out: Path, command: str, kills: tuple[int, int]
) -> None:
    """Twenty kills of ``python -m tests.kills``: old or new, and the next run is as ever."""
    tally = series(nursery, study, out, command, kills, "suite")
    assert tally.findings == []
    assert sum(often for end, often in tally.ends.items() if "killed" in end) > 0


def test_what_a_killed_process_left_goes_with_the_next_write(
    nursery: Nursery, study: Path, out: Path
) -> None:
    """A part that SIGKILL left is cleared by the next write; that of a stopped process is not."""
    killed = nursery.run("front", study, "--out", out, at=3, signal=signal.SIGKILL)
    assert killed.code == -9
    (left,) = out.iterdir()
    assert left.name.endswith(".part")
    fault = {"at": 5, "signal": signal.SIGSTOP, "after": True}
    stopped = nursery.start("front", study, "--out", out, **fault)
    try:
        (held,) = waited(lambda: set(out.iterdir()) - {left})
        assert not left.exists()
        assert nursery.run("front", study, "--out", out).code == 0
        table = (out / "front.csv").read_bytes()
        assert set(out.iterdir()) == {held, out / "front.csv"}
        (out / "front.csv").write_text("old", encoding="utf-8")
        os.kill(stopped["pid"], signal.SIGCONT)
        assert waited(lambda: set() if held.exists() else {held})
        assert (out / "front.csv").read_bytes() == table
        assert [file.name for file in out.iterdir()] == ["front.csv"]
    finally:
        os.kill(stopped["pid"], signal.SIGKILL)
        nursery.finish(stopped)


def test_ended_during_the_search(nursery: Nursery, study: Path, out: Path) -> None:
    """SIGINT and SIGTERM in the search: 130 and 143, one line at most, nothing written."""
    for number, code in ((signal.SIGINT, 130), (signal.SIGTERM, 143)):
        child = nursery.start("front", study, "--out", out)
        time.sleep(0.15)
        os.kill(child["pid"], number)
        ended = nursery.finish(child)
        assert ended.code == code
        assert "Traceback" not in ended.err
        assert ended.err.count("\n") <= 1
        assert list(out.iterdir()) == []


@contextmanager
def small_disk(folder: Path, size: int) -> Iterator[bool]:
    """Mount a file system of a few bytes on a folder; whether that was allowed."""
    libc = ctypes.CDLL(None, use_errno=True)
    options = f"size={size}".encode()
    mounted = libc.mount(b"none", bytes(folder), b"tmpfs", 0, options) == 0
    try:
        yield mounted
        if mounted:
            flags = MOUNT_FLAGS["ro"] | MOUNT_FLAGS["remount"]
            assert libc.mount(b"none", bytes(folder), b"tmpfs", flags, options) == 0
    finally:
        if mounted:
            assert libc.umount2(bytes(folder), 2) == 0


def test_a_full_disk(nursery: Nursery, study: Path, out: Path) -> None:
    """A full file system, or a file-size limit where none may be mounted: exit 1, all as it was.

    The limit is tried in either case.
    """
    (out / "front.csv").write_text("old", encoding="utf-8")
    limited = nursery.run("front", study, "--out", out, limits={"RLIMIT_FSIZE": 3000})
    assert limited.code == 1
    assert limited.err == f"cannot write {out / 'front.csv'}: {os.strerror(errno.EFBIG)}\n"
    assert {file.name: file.read_text() for file in out.iterdir()} == {"front.csv": "old"}
    disk = out / "disk"
    disk.mkdir()
    with small_disk(disk, 16384) as mounted:
        if mounted:
            (disk / "front.csv").write_text("old", encoding="utf-8")
            (disk / "ballast").write_bytes(b"x" * 8192)
            full = nursery.run("front", study, "--out", disk)
            assert full.code == 1
            assert full.err == f"cannot write {disk / 'front.csv'}: {os.strerror(errno.ENOSPC)}\n"
            assert sorted(file.name for file in disk.iterdir()) == ["ballast", "front.csv"]
            assert (disk / "front.csv").read_text() == "old"
            (disk / "ballast").unlink()
            (disk / "front.csv").unlink()


def test_a_read_only_folder(nursery: Nursery, study: Path, out: Path) -> None:
    """A folder that may not be written to, or made: exit 1, path and reason, no traceback."""
    out.chmod(0o555)
    for folder, said in ((out, "cannot write"), (out / "deep", "cannot make the folder")):
        ended = nursery.run("front", study, "--out", folder, stranger=True)
        assert ended.code == 1
        assert said in ended.err
        assert str(folder) in ended.err
        assert os.strerror(errno.EACCES) in ended.err
        assert ended.err.count("\n") == 1
    ended = nursery.run("new", out / "mine", stranger=True)
    assert (ended.code, ended.err.count("\n")) == (1, 1)
    out.chmod(0o755)
    assert list(out.iterdir()) == []


COMMANDS = ("front", "report", "steps", "lineup", "sweep rod", "compare STUDY")
RESULTS = [command.split()[0] + ".csv" for command in COMMANDS if command != "report"]


@pytest.mark.parametrize("command", COMMANDS)
def test_something_else_stands_where_results_go(
    nursery: Nursery, study: Path, out: Path, command: str
) -> None:
    """A file for a folder or the other way round: exit 2 before any work, all clashes at once."""
    word, *more = command.replace("STUDY", str(study)).split()
    blocked, folder, nowhere = out / "file", out / "folder", out / "nowhere"
    blocked.write_text("kept", encoding="utf-8")
    nowhere.symlink_to(out / "not there")
    for name in (*RESULTS, "report.html"):
        (folder / name).mkdir(parents=True)
    before = sorted(out.rglob("*"))
    for place, stands, found in (
        (blocked, blocked, "a file"),
        (blocked / "below" / "it", blocked, "a file"),
        (nowhere, nowhere, "a link that leads nowhere"),
    ):
        ended = nursery.run(word, study, *more, "--out", place)
        assert (ended.code, ended.out) == (2, "")
        wanted = "expected a folder for results; name another with --out"
        assert ended.err == f"{stands}: found {found}, {wanted}\n"
    ended = nursery.run(word, study, *more, "--out", folder)
    names = ["front.csv", "report.html"] if word == "report" else [f"{word}.csv"]
    assert (ended.code, ended.out) == (2, "")
    assert [line.split(":")[0] for line in ended.err.splitlines()] == [
        str(folder / name) for name in names
    ]
    assert ended.err.count("found a folder, expected a file that may be replaced") == len(names)
    assert sorted(out.rglob("*")) == before
    assert blocked.read_text(encoding="utf-8") == "kept"


def test_two_at_once(nursery: Nursery, study: Path, desk: Path, out: Path) -> None:
    """Two processes write the same files over and over while a third reads: always one or other."""
    other = write_small(
        desk / "other", lambda file, text: text.replace('name = "', 'name = "other ', 1)
    )
    tables = set()
    for folder in (study, other):
        assert nursery.run("front", folder, "--out", out).code == 0
        tables.add((out / "front.csv").read_bytes())
    assert len(tables) == 2
    seen = set()
    for _ in range(1):
        children = [nursery.start("front", folder, "--out", out) for folder in (study, other)]
        running = time.monotonic() + 0.7
        while time.monotonic() < running:
            seen.add((out / "front.csv").read_bytes())
            time.sleep(0.002)
        assert [nursery.finish(child).code for child in children] == [0, 0]
    seen.add((out / "front.csv").read_bytes())
    assert seen <= tables
    assert [file.name for file in out.iterdir()] == ["front.csv"]


def test_links_where_results_go(nursery: Nursery, study: Path, out: Path) -> None:
    """A link in place of a result is replaced, one out of reports/ is refused, targets stay."""
    target = out / "target"
    target.write_text("kept", encoding="utf-8")
    results = out / "results"
    results.mkdir()
    (results / "front.csv").symlink_to(target)
    assert nursery.run("front", study, "--out", results).code == 0
    assert not (results / "front.csv").is_symlink()
    assert target.read_text(encoding="utf-8") == "kept"
    outside = out / "outside"
    outside.mkdir()
    (out / "reports").mkdir()
    (out / "reports" / study.name).symlink_to(outside)
    refused = nursery.run("front", study, cwd=out)
    assert refused.code == 2
    assert "leads out of the folder" in refused.err
    assert list(outside.iterdir()) == []


def test_the_folder_one_stands_in(nursery: Nursery, study: Path, out: Path) -> None:
    """``ramfront front .`` and ``front ..`` name their results by the folder."""
    standing = write_small(out / "mine")
    (standing / "below").mkdir()
    for place, words in ((standing, "."), (standing / "below", "..")):
        ended = nursery.run("front", words, cwd=place)
        assert ended.code == 0, ended.err
        assert (place / "reports" / "mine" / "front.csv").is_file()
