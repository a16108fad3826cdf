"""First studies to change: an invented machine with short price lists that runs as it is.

There is one for each kind of user. Their study.toml is put together from sections, each of which is
written once.
"""

from __future__ import annotations

import contextlib
import os
import shlex
from importlib import resources
from pathlib import Path

from optimise.errors import CallError, OutputError, shown_path
from optimise.files import write_whole
from optimise.machine.parts import CATEGORIES

STARTER_FILES = ("study.toml", *(f"{category}.csv" for category in CATEGORIES))
"""Files of the starter study."""


KINDS_OF_USER: dict[str, tuple[str, ...]] = {
    "engineer": (
        "head",
        "machine",
        "day",
        "work",
        "wood",
        "money_shop",
        "# buyers",
        "readings",
        "readings_more",
        "limit_moved",
        "limit_own",
        "space",
    ),
    "planner": ("head", "machine", "day", "work", "wood", "money_shop", "buyers", "limit_moved"),
    "hobbyist": (
        "head",
        "machine",
        "day",
        "work",
        "wood",
        "money_own",
        "readings_stopwatch",
        "limit_budget",
    ),
}
"""Sections of each kind of user's study.toml after the words to that user; those after a ``#`` are
written as comments, to be taken in later."""
USUAL_KIND = "engineer"


def section_text(name: str) -> str:
    """Text of one section of a study.toml."""
    source = resources.files("optimise.study") / "starter_files" / "sections" / f"{name}.toml"
    return source.read_text(encoding="utf-8").rstrip("\n")


def _as_comment(name: str) -> str:
    rows = section_text(name).splitlines()
    lines = [row if row.startswith("#") else f"# {row}".rstrip() for row in rows]
    return "\n".join(["# Take the marks off to use what follows.", *lines])


def starter_text(name: str, kind: str = USUAL_KIND) -> str:
    """Text of one of :data:`STARTER_FILES` for a key of :data:`KINDS_OF_USER`."""
    if name != "study.toml":
        source = resources.files("optimise.study") / "starter_files" / name
        return source.read_text(encoding="utf-8")
    head, *rest = KINDS_OF_USER[kind]
    sections = [_as_comment(one[2:]) if one.startswith("# ") else section_text(one) for one in rest]
    opening = f"{section_text(f'for_{kind}')}\n{section_text(head)}"
    return "\n\n".join([opening, *sections]) + "\n"


def next_commands(folder: Path, kind: str = USUAL_KIND) -> list[str]:
    """Commands that a kind of user would give next, as its study.toml names them, for a shell."""
    lines = section_text(f"for_{kind}").splitlines()
    calls = (line.removeprefix("#").strip() for line in lines if line.startswith("#   ramfront"))
    return [call.replace("FOLDER", _for_a_shell(str(folder))) for call in calls]


def _for_a_shell(name: str) -> str:
    r"""Name as a word of a command that may be printed and put into a shell.

    Examples
    --------
    >>> print(_for_a_shell("my splitter"), _for_a_shell("rod\u202e's"))
    'my splitter' $'rod\xe2\x80\xae\'s'
    """
    if name.isprintable():
        return shlex.quote(name)
    letters = (
        f"\\{letter}"
        if letter in "\\'"
        else letter
        if letter.isprintable()
        else "".join(f"\\x{byte:02x}" for byte in os.fsencode(letter))
        for letter in name
    )
    return f"$'{''.join(letters)}'"


def write_starter(folder: Path, kind: str = USUAL_KIND) -> None:
    """Write a commented study.toml and a price list for each part category.

    Parameters
    ----------
    folder
        Made when it is not there. Other files in it stay as they are.
    kind
        A key of :data:`KINDS_OF_USER`.

    Raises
    ------
    CallError
        The folder holds a study or a price list already, or is no folder.
    OutputError
        Something could not be written; nothing of the study is left behind.
    """
    name = shown_path(str(folder))
    made: list[Path] = []
    try:
        _refuse_taken(folder, name)
        for parent in (*reversed(folder.parents), folder):
            if not parent.exists():
                parent.mkdir()
                made.append(parent)
        for file in reversed(STARTER_FILES):
            target = folder / file
            write_whole(target, starter_text(file, kind))
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
