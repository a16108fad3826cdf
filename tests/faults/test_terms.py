"""Pipes that close, terminals that are narrow or absent, and surroundings that are odd."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from optimise.study.starter import starter_text
from tests.cli.test_commands import ramfront
from tests.faults.conftest import write_small
from tests.faults.nursery import ROOT, Nursery


def test_a_reader_that_leaves(nursery: Nursery, study: Path, out: Path) -> None:
    """A pipe closed in the middle of a long answer: a quiet end, exit 0."""
    pipe = out / "pipe"
    os.mkfifo(pipe)
    child = nursery.start("front", study, "--json", stdout=str(pipe))
    reader = os.open(pipe, os.O_RDONLY)
    assert os.read(reader, 1) == b"{"
    os.close(reader)
    ended = nursery.finish(child)
    assert (ended.code, ended.err) == (0, "")


@pytest.mark.parametrize(
    "words", [("check",), ("explain",), ("check", "--json"), ("schema",), ("completion", "bash")]
)
def test_a_reader_that_left_before(
    nursery: Nursery, study: Path, out: Path, words: tuple[str, ...]
) -> None:
    """Whatever would be told, in words or for programs: a quiet end, exit 0."""
    pipe = out / "pipe"
    os.mkfifo(pipe)
    command, *more = words
    asked = (study,) if command in ("check", "explain") else ()
    child = nursery.start(command, *asked, *more, stdout=str(pipe))
    os.close(os.open(pipe, os.O_RDONLY))
    ended = nursery.finish(child)
    assert (ended.code, ended.err) == (0, "")


def test_output_that_is_full_or_closed(nursery: Nursery, study: Path) -> None:
    """An answer onto a full device: exit 1, one line; no standard output at all: a quiet end."""
    full = nursery.run("check", study, stdout="/dev/full")
    assert (full.code, full.err.count("\n")) == (1, 1)
    assert os.strerror(28) in full.err
    closed = nursery.run("check", study, stdout=None)
    assert (closed.code, closed.err) == (0, "")


def test_missing_parquet_library(nursery: Nursery, study: Path, out: Path) -> None:
    """Without pyarrow: exit 2, the command that installs it, nothing written."""
    ended = nursery.run("front", study, "--parquet", "--out", out, without=["pyarrow"])
    assert ended.code == 2
    assert ended.err == ("--parquet needs the library pyarrow: pip install 'ramfront[parquet]'\n")
    assert list(out.iterdir()) == []


def test_odd_surroundings(nursery: Nursery, study: Path, out: Path) -> None:
    """ASCII only, no HOME, 20 columns, no input, other zone and hash seed: words, equal bytes."""
    assert nursery.run("front", study, "--out", out / "plain").code == 0
    odd = {
        "PATH": os.environ["PATH"],
        "LC_ALL": "C",
        "PYTHONUTF8": "0",
        "PYTHONCOERCECLOCALE": "0",
        "PYTHONIOENCODING": "ascii",
        "PYTHONHASHSEED": "77",
        "TZ": "Pacific/Kiritimati",
        "COLUMNS": "20",
        "TERM": "dumb",
        "PYTHONPATH": str(ROOT),
    }
    done = subprocess.run(
        [sys.executable, "-m", "optimise", "front", str(study), "--out", str(out / "odd")],
        env=odd, stdin=subprocess.DEVNULL, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (out / "odd" / "front.csv").read_bytes() == (out / "plain" / "front.csv").read_bytes()
    assert b"\x1b" not in done.stdout + done.stderr
    lines = done.stdout.decode("ascii").splitlines()
    assert max(map(len, lines)) <= 20
    told = nursery.run("check", study, "--json", encoding="ascii")
    assert json.loads(told.out) == json.loads(nursery.run("check", study, "--json").out)


def hostile(folder: Path, *marks: str) -> Path:
    """Study with parts of its lists, its title and limits of its own named so."""
    files = ("tank.csv", "filter.csv", "rod.csv", "suction_hose.csv", "valve.csv")
    owned = tomllib.loads(starter_text("study.toml"))["owned"]
    names = {mark: owned[file.split(".")[0]] for mark, file in zip(marks, files, strict=False)}

    def change(file: str, text: str) -> str:
        for mark, name in names.items():
            quoted = json.dumps(mark) if file == "study.toml" else mark
            text = text.replace(f'"{name}"' if file == "study.toml" else name, quoted)
        if file == "study.toml":
            title = f"title = {json.dumps(marks[0])}"
            text = text.replace('title = "Invented starter machine"', title)
            for mark in marks:
                text += (
                    f"\n[[user_limits]]\nname = {json.dumps(mark)}\n"
                    'result = "cycle.total_s"\nat_most = "14 s"\n'
                )
        return text

    return write_small(folder, change)


MARKS = ("[red]bold[/red][/]", "=HYPERLINK(1)", "+1+1", "@x", "-2+3")


def test_hostile_names_in_words_and_tables(out: Path) -> None:
    """Names that try terminal markup or a formula, of limits too: shown as they are, inert."""
    folder = hostile(out / "s", *MARKS)
    words = ramfront("check", str(folder))
    assert words.returncode == 0, words.stderr
    for mark in MARKS:
        assert mark in words.stdout
    done = ramfront("front", str(folder), "--out", str(out / "o"))
    assert done.returncode == 0, done.stderr
    with (out / "o" / "front.csv").open(encoding="utf-8", newline="") as file:
        cells = {cell for row in csv.reader(file) for cell in row}
    for mark in MARKS:
        assert (mark if mark.startswith("[") else f"'{mark}") in cells
    numbers = re.compile(r"-?[\d.]+(e[+-]?\d+)?")
    risky = [cell for cell in cells if cell[:1] in "=+-@" and cell]
    assert [cell for cell in risky if not numbers.fullmatch(cell)] == []


def test_names_with_control_characters_do_not_reach_the_terminal(out: Path) -> None:
    """Escape sequences in names are refused and shown spelt out, never sent to the terminal."""
    for number, mark in enumerate(("\x1b[31mred\x1b]0;title\x07", "a\rb", "\x9b31m")):
        done = ramfront("check", str(hostile(out / str(number), mark)))
        assert done.returncode == 2
        assert "control character" in done.stderr
        assert not any(letter in done.stdout + done.stderr for letter in "\x1b\x07\r\x9b")
