"""A first study to change: an invented machine with short price lists that runs as it is."""

from __future__ import annotations

import contextlib
from importlib import resources
from pathlib import Path

from optimise.errors import CallError, OutputError, shown
from optimise.files import write_whole
from optimise.machine.parts import CATEGORIES

STARTER_FILES = ("study.toml", *(f"{category}.csv" for category in CATEGORIES))
"""Files of the starter study."""


def starter_text(name: str) -> str:
    """Text of one of :data:`STARTER_FILES`."""
    source = resources.files("optimise.study") / "starter_files" / name
    return source.read_text(encoding="utf-8")


def write_starter(folder: Path) -> None:
    """Write a commented study.toml and a price list for each part category.

    Parameters
    ----------
    folder
        Made when it is not there. Other files in it stay as they are.

    Raises
    ------
    CallError
        The folder holds a study or a price list already, or is no folder.
    OutputError
        Something could not be written; nothing of the study is left behind.
    """
    name = shown(str(folder), None)
    made: list[Path] = []
    try:
        _refuse_taken(folder, name)
        for parent in (*reversed(folder.parents), folder):
            if not parent.exists():
                parent.mkdir()
                made.append(parent)
        for file in reversed(STARTER_FILES):
            target = folder / file
            write_whole(target, starter_text(file))
            made.append(target)
    except OSError as error:
        _undo(made)
        raise OutputError(f"cannot write {name}: {error.strerror or error}") from error
    except BaseException:
        _undo(made)
        raise


def _refuse_taken(folder: Path, name: str) -> None:
    if folder.exists() and not folder.is_dir():
        raise CallError(f"{name} is a file, not a folder for a study")
    held = [file for file in STARTER_FILES if (folder / file).exists()]
    if held:
        raise CallError(f"{name} holds {held[0]} already; choose another folder")


def _undo(made: list[Path]) -> None:
    for path in reversed(made):
        with contextlib.suppress(OSError):
            if path.is_dir():
                path.rmdir()
            else:
                path.unlink(missing_ok=True)
