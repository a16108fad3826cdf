"""From Python: the README's example runs, and a notebook shows a study's text as text."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import optimise
from optimise.errors import StudyError
from optimise.study.starter import write_starter
from tests.cli.test_commands import ROOT, answer

MARKS = '<img src=x onerror="alert(1)">&'


def test_the_example_of_the_readme_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8").split("## From Python")[1]
    (code,) = re.findall(r"```python\n(.*?)```", text.split("\n## ")[0], re.DOTALL)
    monkeypatch.chdir(ROOT)
    names: dict[str, Any] = {}
    exec(compile(code, "README.md", "exec"), names)
    first, second, third, fourth = capsys.readouterr().out.splitlines()
    checked = answer("check", "studies/kvarnby")
    assert first.startswith("<Machine of kvarnby: cycle ")
    assert second.startswith(f"{checked['cycle']['total_s']:.1f} s, nearest limit: ")
    assert third.endswith(" s back")
    front = names["front"]
    assert fourth.split()[:2] == [str(len(front)), "True"]
    machines = list(front)
    times = [one["cycle.total_s"] for one in machines]
    assert times == sorted(times) == front.objectives["cycle.total_s"]
    assert all(one.safe for one in machines)
    assert front[-1].parts == machines[-1].parts
    assert front[0].results["force_N"] == pytest.approx(front.objectives["force_N"][0])
    html = front._repr_html_()
    assert html.count("<tr>") == 13
    assert f"{len(front):,} machines worth a look" in html


def test_a_machine_is_that_of_check() -> None:
    study = optimise.load(ROOT / "studies/alder-yard", "rod=3.5 in rod, 75 ksi", units="metric")
    machine = optimise.evaluate(study)
    checked = answer("check", "studies/alder-yard", "--set", "rod=3.5 in rod, 75 ksi")
    assert machine["cycle.total_s"] == checked["cycle"]["total_s"]
    assert dict(machine.parts) == checked["parts"]
    assert machine.safe is checked["feasible"] is False
    crossed = {one["name"] for one in checked["limits"] if not one["ok"]}
    assert {one.name for one in machine.limits if not one.kept} == crossed
    assert not machine.limits[0].kept
    assert "do not run it like this" in repr(machine)
    assert "kN" in machine._repr_html_()
    with pytest.raises(KeyError):
        machine["cycle.nonsense"]
    with pytest.raises(StudyError, match="no such rod"):
        optimise.load(ROOT / "studies/alder-yard", "rod=no such rod")


class _Tags(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.open.append(tag)
        assert all(name == "scope" for name, _ in attrs)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_text_of_a_study_is_never_markup(tmp_path: Path) -> None:
    write_starter(tmp_path)
    for file, old in (("study.toml", "Invented starter machine"), ("study.toml", "2 in rod"),
                      ("rod.csv", "2 in rod")):  # fmt: skip
        path = tmp_path / file
        new = MARKS if file == "rod.csv" else MARKS.replace('"', '\\"')
        new = '"' + new.replace('"', '""') + '"' if file == "rod.csv" else new
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
    study = optimise.load(tmp_path)
    for shown in (optimise.evaluate(study), optimise.front(study)):
        page = _Tags(shown._repr_html_())
        assert page.tags <= {"p", "strong", "table", "thead", "tbody", "tr", "th", "td"}
        assert page.open == []
        assert MARKS in page.words
    limit = f"[[user_limits]]\nname = '{MARKS}'\nresult = 'cycle.total_s'\nat_most = '1 s'\n"
    with (tmp_path / "study.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n{limit}")
    page = _Tags(optimise.evaluate(optimise.load(tmp_path))._repr_html_())
    assert "img" not in page.tags
    assert any(words.startswith(f"Crosses {MARKS}") for words in page.words)


def test_importing_it_loads_nothing_heavy() -> None:
    code = (
        "import sys, optimise; "
        "print(optimise.__version__, 'load' in dir(optimise), "
        "sorted({'numpy', 'scipy', 'pydantic', 'rich', 'typer', 'plotly'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == f"{optimise.__version__} True []"
    with pytest.raises(AttributeError, match="nonsense"):
        optimise.nonsense  # noqa: B018
