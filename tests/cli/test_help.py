"""Help: every command has two examples, and they run; the schema is printed as published."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import typer

from optimise.cli import app
from optimise.machine.parts import CATEGORIES
from optimise.study.published import SCHEMA_FILE
from optimise.study.starter import KINDS_OF_USER, next_commands
from tests.cli.test_commands import ROOT, STUDIES, ramfront

COMMANDS: dict[str, Any] = typer.main.get_group(app).commands
COSTLY = "report"
SEARCHED = ("rod", "return_hose")
"""Categories that the examples search through; all others are kept, to save time."""


def shown() -> dict[str, Any]:
    return {name: command for name, command in COMMANDS.items() if not command.hidden}


def examples() -> list[str]:
    calls = []
    for name, command in shown().items():
        head, *found = (command.epilog or "").split("\n\n")
        assert (head, len(found)) == ("Examples:", 2), name
        assert all(call.startswith(f"ramfront {name}") for call in found), found
        calls += found
    return calls


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with the demonstrations, their search cut down to a few parts."""
    folder = tmp_path_factory.mktemp("examples")
    kept = [category for category in CATEGORIES if category not in SEARCHED]
    for name in STUDIES:
        target = folder / "studies" / name
        target.mkdir(parents=True)
        for file in (ROOT / "studies" / name).iterdir():
            text = file.read_text(encoding="utf-8")
            if file.name == "study.toml":
                assert text.count("keep = []") == 1
                text = text.replace("keep = []", f"keep = {json.dumps(kept)}")
            (target / file.name).write_text(text, encoding="utf-8")
    return folder


def words_of(call: str) -> list[str]:
    """Words after ``ramfront`` of a call, without the file that it is written to."""
    return shlex.split(re.split(" >>? ", call)[0])[1:]


@pytest.mark.parametrize("call", [call for call in examples() if words_of(call)[0] != COSTLY])
def test_examples_of_the_help_run(call: str, place: Path) -> None:
    done = ramfront(*words_of(call), cwd=place)
    assert done.returncode == 0, done.stderr
    assert done.stdout or "written: " in done.stderr


def test_examples_of_the_report_are_calls_that_it_takes() -> None:
    """They take seconds each; reports are written in the tests of the command."""
    for call in (call for call in examples() if words_of(call)[0] == COSTLY):
        context = COMMANDS[COSTLY].make_context(COSTLY, words_of(call)[1:])
        assert (ROOT / context.params["study"]).is_dir()
        assert context.params["open_it"] == ("--open" in call)


def test_help_shows_the_examples_and_fits_a_terminal() -> None:
    for name in shown():
        done = ramfront(name, "--help")
        assert done.returncode == 0
        rows = [row.strip() for row in done.stdout.splitlines()]
        for call in COMMANDS[name].epilog.split("\n\n"):
            assert call in rows, (name, call)
            assert len(call) < 79, call


def test_help_speaks_of_values_by_name_and_not_of_types() -> None:
    for words in ([], *([name] for name in shown())):
        told = ramfront(*words, "--help").stdout
        assert not re.search(r"<(bool|int|str|float|path|list|int range|Path)\b", told), told


@pytest.mark.parametrize("call", [("new", "mine", "--for", "foo"), ("completion", "csh")])
def test_a_word_that_is_no_choice_is_refused_with_the_choices(call: tuple[str, ...]) -> None:
    done = ramfront(*call)
    assert done.returncode == 2
    assert f": '{call[-1]}' is not one of '" in done.stderr


@pytest.mark.parametrize("name", ["sweep", "steps", "lineup", "compare"])
def test_a_table_that_is_written_only_where_asked_for_has_no_usual_folder(name: str) -> None:
    told = ramfront(name, "--help").stdout
    assert "FOLDER" in told
    assert "reports/NAME" not in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["a" * 3000], "No such command 'aaa"),
        (["a " * 1500], "No such command 'a a "),
        (["a 'b' " * 500], """No such command "a 'b' """),
        (["--" + "a" * 3000], "No such option: --aaa"),
        (["check", "studies/kvarnby", "--units", "a" * 3000], "is not one of 'us', 'metric'"),
    ],
)
def test_long_words_that_are_refused_are_cut(words: list[str], said: str) -> None:
    done = ramfront(*words)
    assert (done.returncode, done.stdout) == (2, "")
    told = " ".join(done.stderr.replace("│", "").split())
    assert said in told
    assert "…" in told
    assert told.count("a") < 120


def test_schema_is_printed_as_published() -> None:
    done = ramfront("schema")
    assert done.stdout == SCHEMA_FILE.read_text(encoding="utf-8")
    assert json.loads(done.stdout)["$schema"].startswith("https://json-schema.org/")


@pytest.mark.parametrize("kind", KINDS_OF_USER)
def test_a_starter_answers_what_it_says_next(kind: str, tmp_path: Path) -> None:
    made = ramfront("new", "mine", "--for", kind, cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    for call in next_commands(Path("mine"), kind):
        words = shlex.split(call.partition("  ")[0])
        assert f"next: {call}" in made.stderr
        if words[1] != COSTLY:
            strict = ["--strict"] if words[1] == "check" else []
            done = ramfront(*words[1:], *strict, cwd=tmp_path)
            assert done.returncode == 0, done.stderr
            assert done.stdout
