"""Completion: what TAB offers, asked of bash itself and of the command that it asks."""

from __future__ import annotations

import doctest
import os
import pty
import re
import select
import shlex
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from optimise import completing
from optimise.completing import SCRIPTS, for_bash, typed
from tests.cli.test_commands import ROOT, ramfront

ROD = "3.5 in rod, 75 ksi"
ENVIRONMENT = {
    "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
    "PYTHONPATH": str(ROOT),
    "HOME": "/nonexistent",
    "TERM": "dumb",
    "PS1": "READY>",
    "HISTFILE": "",
}


def offered(*words: str, cwd: Path = ROOT) -> list[str]:
    done = ramfront("complete", "plain", "--", *words, cwd=cwd)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_commands_and_options() -> None:
    assert {"check", "explain", "new", "completion"} <= set(offered(""))
    assert "complete" not in offered("")
    assert offered("sw") == ["sweep"]
    assert "--strict" in offered("check", "studies/alder-yard", "--")
    assert offered("check", "studies/alder-yard", "--units", "") == ["us", "metric"]
    assert offered("new", "mine", "--for", "h") == ["hobbyist"]
    assert offered("weigh", "") == []
    assert offered("check", "studies/alder-yard", "") == []


def test_studies_are_found_from_the_first_letters(tmp_path: Path) -> None:
    assert offered("check", "st") == ["studies/alder-yard", "studies/kvarnby"]
    assert offered("compare", "studies/kvarnby", "studies/a") == ["studies/alder-yard"]
    (tmp_path / "old.json").write_text("{}", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    assert offered("compare", "", cwd=tmp_path) == ["empty/", "old.json"]
    assert offered("check", "", cwd=tmp_path) == ["empty/"]
    assert offered("check", "nowhere/", cwd=tmp_path) == []


def test_keys_and_values_of_set() -> None:
    keys = offered("check", "studies/alder-yard", "--set", "")
    assert {"rod=", "rod.", "frame.", "surroundings."} <= set(keys)
    assert offered("check", "studies/alder-yard", "--set", "rod=3.5") == [f"rod={ROD}"]
    assert "rod.diameter=" in offered("check", "studies/alder-yard", "--set", "rod.")
    assert offered("check", "studies/alder-yard", "--set", "lines.suction.l") == [
        "lines.suction.length="
    ]
    wedges = ["frame.wedge=two-way", "frame.wedge=four-way"]
    assert offered("check", "studies/alder-yard", "--set", "frame.wedge=") == wedges
    assert offered("check", "studies/alder-yard", "--set", "frame.stroke=") == []
    assert offered("check", "nowhere", "--set", "rod=") == []


def test_parts_where_other_options_and_arguments_take_them() -> None:
    alder = "studies/alder-yard"
    assert offered("steps", alder, "--to", "rod=3.5") == [f"rod={ROD}"]
    assert offered("compare", alder, "--with", "pump=x; rod=3.5") == [f"pump=x; rod={ROD}"]
    assert offered("sweep", alder, "ro") == ["rod", "rod=", "rod."]
    assert offered("sweep", alder, "rod=a | 3.5") == [f"rod=a | {ROD}"]


def test_every_key_offered_is_one_that_set_takes() -> None:
    """The numbers of a table are all offered, and none that check refuses as unknown."""
    for key in offered("check", "studies/alder-yard", "--set", "surroundings."):
        done = ramfront("check", "studies/alder-yard", "--set", f"{key}nonsense")
        assert done.returncode == 2
        assert "nonsense" in done.stderr
        assert "unknown" not in done.stderr


@pytest.mark.parametrize(
    ("line", "words", "current"),
    [
        ("ramfront check a ", ("ramfront", "check", "a"), ""),
        ("ramfront check 'a b' --set \"rod=2 i", ("ramfront", "check", "a b", "--set"), "rod=2 i"),
        (r"ramfront check a\ b", ("ramfront", "check"), "a b"),
        (r'ramfront "a\"b" c', ("ramfront", 'a"b'), "c"),
        ("", (), ""),
    ],
)
def test_a_line_is_taken_apart_as_a_shell_does(
    line: str, words: tuple[str, ...], current: str
) -> None:
    found = typed(line)
    assert (found.words, found.current) == (words, current)


def test_examples_of_the_docstrings() -> None:
    assert doctest.testmod(completing).attempted == 2
    assert doctest.testmod(completing).failed == 0


def test_scripts_are_printed() -> None:
    for shell, script in SCRIPTS.items():
        assert ramfront("completion", shell.value).stdout == script
    refused = ramfront("completion", "csh")
    assert refused.returncode == 2
    assert "csh" in refused.stderr


def in_bash(commands: str) -> str:
    done = subprocess.run(
        ["bash", "--norc", "--noprofile", "-c", commands],
        cwd=ROOT,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("start", ['"rod=3', "'rod=3", "rod=3", "rod="])
def test_a_part_with_signs_of_the_shell_is_put_in_as_its_name(start: str) -> None:
    part = 'rod=3 `echo x` $(echo y) "z" \\ !rod; & rod'
    line = typed(f"ramfront check a --set {start}")
    (found,) = for_bash([part], line)
    assert in_bash(f"printf %s {line.quote or line.kept}{found}{line.quote}") == part


def test_the_function_of_bash_fills_its_replies() -> None:
    line = 'ramfront check studies/alder-yard --set "rod='
    found = in_bash(
        f"source <(ramfront completion bash); complete -p ramfront; "
        f"COMP_LINE={shlex.quote(line)}; COMP_POINT=${{#COMP_LINE}}; _ramfront ramfront; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    ).splitlines()
    assert found[0] == "complete -F _ramfront ramfront"
    rods = (ROOT / "studies/alder-yard/rod.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert len(found) == len(rods) + 1
    assert f"rod={ROD}" in found


@pytest.fixture(scope="module")
def terminal() -> Iterator[int]:
    """Bash at a terminal of its own, with the completion read in."""
    ours, theirs = pty.openpty()
    shell = subprocess.Popen(
        ["bash", "--norc", "--noprofile", "-i"],
        cwd=ROOT,
        env=ENVIRONMENT,
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
    )
    os.close(theirs)
    os.write(ours, b"source <(ramfront completion bash)\n")
    os.write(ours, b"show() { printf 'GOT'; printf '<%s>' \"$@\"; echo END; }\n")
    yield ours
    shell.kill()
    shell.wait()
    os.close(ours)


@pytest.mark.parametrize(
    "keys",
    [
        'ramfront check studies/al\t --set "rod=3.5\t',
        "ramfront check studies/al\t --set rod=3.5\t",
        "ramfront che\tstudies/alder-yard --se\t'rod=3.5\t",
    ],
    ids=["double quotes", "no quotes", "single quotes"],
)
def test_tab_at_a_terminal(terminal: int, keys: str) -> None:
    """Typed as a person does: a name with spaces arrives as one word, in quotes or without."""
    os.write(terminal, keys.encode() + b"\x01show \n")
    seen = b""
    until = time.monotonic() + 20.0
    while not re.search(rb"GOT<.*>END\r", seen) and time.monotonic() < until:
        if select.select([terminal], [], [], 1.0)[0]:
            seen += os.read(terminal, 65536)
    got = re.findall(rb"GOT<(.*)>END\r", seen)
    assert got, seen.decode()
    assert got[-1].decode().split("><") == [
        "ramfront",
        "check",
        "studies/alder-yard",
        "--set",
        f"rod={ROD}",
    ]
