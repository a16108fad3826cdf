"""The starter study as a person would change it, for the tests of this folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from optimise.errors import Fault, StudyError
from optimise.study.load import load_study
from optimise.study.starter import STARTER_FILES, section_text, starter_text, write_starter

Change = tuple[str, str, str]
"""File, text that stands in it once, and what to put there."""


def with_one_reading(text: str) -> str:
    """The starter's study.toml with the first of its measurements alone."""
    return text.replace("\n\n" + section_text("readings_more"), "")


def write_changed(folder: Path, changes: Sequence[Change]) -> Path:
    write_starter(folder)
    study = folder / "study.toml"
    study.write_text(with_one_reading(study.read_text(encoding="utf-8")), encoding="utf-8")
    for file, old, new in changes:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_text(text.replace(old, new), encoding="utf-8")
    return folder


def faults_of(folder: Path, sets: Sequence[str] = ()) -> tuple[Fault, ...]:
    try:
        load_study(folder, sets)
    except StudyError as error:
        return error.faults
    return ()


def rewrite(folder: Path, change: Callable[[str, str], str]) -> None:
    """Write the starter with each file's text changed: ``change(file, text)``."""
    folder.mkdir()
    for file in STARTER_FILES:
        (folder / file).write_text(change(file, starter_text(file)), encoding="utf-8")


def line_of(folder: Path, start: str) -> int:
    """Line of study.toml that begins with ``start``."""
    lines = (folder / "study.toml").read_text(encoding="utf-8").splitlines()
    found = [number for number, line in enumerate(lines, start=1) if line.startswith(start)]
    assert len(found) == 1, f"{start!r} begins {len(found)} lines"
    return found[0]
