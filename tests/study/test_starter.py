"""The starter study: whole or not at all, and never over what is there."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimise.errors import CallError, OutputError
from optimise.files import write_whole
from optimise.machine.parts import CATEGORIES
from optimise.study import starter
from optimise.study.load import load_study
from optimise.study.starter import STARTER_FILES, starter_text, write_starter


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
