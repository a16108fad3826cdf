"""The starter study: whole or not at all, and never over what is there."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from optimise.errors import CallError, OutputError
from optimise.files import write_whole
from optimise.machine.parts import CATEGORIES
from optimise.study import starter
from optimise.study.load import load_study
from optimise.study.starter import (
    KINDS_OF_USER,
    STARTER_FILES,
    next_commands,
    starter_text,
    write_starter,
)


def test_writes_one_list_for_each_category(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "down" / "new"
    write_starter(folder)
    written = {path.name for path in folder.iterdir()}
    assert written == {"study.toml", *(f"{category}.csv" for category in CATEGORIES)}
    assert load_study(folder).name == "starter"


def test_lists_are_short_and_said_to_be_invented(tmp_path: Path) -> None:
    write_starter(tmp_path)
    study = load_study(tmp_path)
    assert all(3 <= len(prices.names) <= 5 for prices in study.lists.values())
    assert "invented" in study.notes.lower()
    assert "INVENTED" in starter_text("study.toml")


def test_other_files_of_the_folder_stay(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    write_starter(tmp_path)
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", STARTER_FILES)
def test_a_folder_that_holds_a_study_or_a_list_is_refused(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(CallError, match="already"):
        write_starter(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "s").write_text("mine", encoding="utf-8")
    with pytest.raises(CallError, match="is a file"):
        write_starter(tmp_path / "s")
    with pytest.raises(OutputError):
        write_starter(tmp_path / "s" / "below")


@pytest.mark.parametrize("failing", range(len(STARTER_FILES)))
def test_nothing_is_left_when_a_write_fails(
    failing: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    count = 0

    def write(path: Path, text: str) -> None:
        nonlocal count
        if count == failing:
            raise OutputError(f"cannot write {path}: no space left on device")
        count += 1
        write_whole(path, text)

    monkeypatch.setattr(starter, "write_whole", write)
    with pytest.raises(OutputError, match="no space left"):
        write_starter(tmp_path / "a" / "b")
    assert list(tmp_path.iterdir()) == []


def test_study_file_is_written_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder killed half-way is no study."""
    order: list[str] = []
    monkeypatch.setattr(starter, "write_whole", lambda path, text: order.append(path.name))
    write_starter(tmp_path / "s")
    assert order[-1] == "study.toml"
    assert sorted(order) == sorted(STARTER_FILES)


def test_each_kind_of_user_gets_what_that_user_needs(tmp_path: Path) -> None:
    studies = {}
    for kind in KINDS_OF_USER:
        write_starter(tmp_path / kind, kind)
        studies[kind] = load_study(tmp_path / kind)
    engineer, planner, hobbyist = (studies[kind] for kind in ("engineer", "planner", "hobbyist"))
    assert len({measured.kind for measured in engineer.measurements}) >= 3
    assert engineer.setting.limit_changes
    assert len(planner.buyers) >= 2
    assert planner.money.margin > 0.0
    assert hobbyist.measurements
    assert [limit.result for limit in hobbyist.setting.user_limits] == ["cost.outlay"]
    assert not hobbyist.buyers
    assert not engineer.buyers
    same = {study.setting.frame for study in studies.values()}
    assert len(same) == 1
    assert all("INVENTED" in starter_text("study.toml", kind) for kind in KINDS_OF_USER)


def test_sections_in_comments_can_be_taken_in(tmp_path: Path) -> None:
    write_starter(tmp_path)
    file = tmp_path / "study.toml"
    head, _, rest = file.read_text(encoding="utf-8").partition("# Take the marks off")
    later, blank, tail = rest.partition("\n\n# uncertainty")
    taken = "\n".join(line.removeprefix("# ") for line in later.split("\n")[2:])
    file.write_text(head + taken + blank + tail, encoding="utf-8")
    assert len(load_study(tmp_path).buyers) == 2


def test_every_section_is_somebodys() -> None:
    folder = Path(starter.__file__).with_name("starter_files") / "sections"
    used = {one.removeprefix("# ") for sections in KINDS_OF_USER.values() for one in sections}
    used |= {f"for_{kind}" for kind in KINDS_OF_USER}
    assert {file.stem for file in folder.iterdir()} == used


@pytest.mark.parametrize("kind", KINDS_OF_USER)
def test_next_commands_are_about_the_folder(kind: str) -> None:
    calls = next_commands(Path("studies/mine"), kind)
    assert len(calls) >= 3
    assert all(call.startswith("ramfront ") and " studies/mine" in call for call in calls)
    for call in next_commands(Path("my $(study)"), kind):
        words = shlex.split(call)
        assert [word for word in words if word.startswith("my $(study)")], call
