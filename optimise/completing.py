"""What a shell offers on TAB: commands, options, studies, keys of --set and names of parts.

Keys come from the published schema and the heads of the price lists, so that nothing heavy is
imported: a TAB must not be waited for.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from optimise.files import SAVED_ANSWERS
from optimise.study.published import published_schema

STUDY_FILE = "study.toml"
UNFINISHED = ("=", ".", "/")
"""Ends after which a candidate goes on, so that no space may follow."""
_BREAKS = "=:"
"""Characters at which bash takes a word apart outside of quotes."""
_PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./,=:+@%"


class Shell(StrEnum):
    """Shells that completion is written for."""

    bash = "bash"
    zsh = "zsh"
    fish = "fish"


SCRIPTS: dict[Shell, str] = {
    Shell.bash: r"""# Completion of ramfront for bash. To have it in every shell:
#   ramfront completion bash >> ~/.bashrc
_ramfront() {
    local found
    COMPREPLY=()
    while IFS= read -r found; do
        COMPREPLY+=("$found")
    done < <("$1" complete bash -- "${COMP_LINE:0:COMP_POINT}" 2>/dev/null)
    case "${COMPREPLY[0]}" in
        *[=./]) compopt -o nospace 2>/dev/null ;;
    esac
}
complete -F _ramfront ramfront
""",
    Shell.zsh: r"""#compdef ramfront
# Completion of ramfront for zsh. To have it in every shell, after compinit:
#   ramfront completion zsh >> ~/.zshrc
_ramfront() {
    local -a found open
    found=("${(@f)$(ramfront complete plain -- \
        "${(@Q)words[2,CURRENT-1]}" "${(Q)PREFIX}" 2>/dev/null)}")
    found=("${(@)found:#}")
    open=("${(@M)found:#*[=./]}")
    found=("${(@)found:#*[=./]}")
    (( ${#open} )) && compadd -S '' -a open
    (( ${#found} )) && compadd -a found
}
compdef _ramfront ramfront
""",
    Shell.fish: r"""# Completion of ramfront for fish. To have it in every shell:
#   ramfront completion fish > ~/.config/fish/completions/ramfront.fish
function __ramfront_complete
    set -l words (commandline -opc)
    ramfront complete plain -- $words[2..-1] (commandline -ct) 2>/dev/null
end
complete -c ramfront -f -a '(__ramfront_complete)'
""",
}


# --- words of a line ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Typed:
    """A line up to the cursor.

    Attributes
    ----------
    words
        Whole words before the cursor, quotes taken off.
    current
        Word at the cursor, quotes taken off.
    quote
        Quotation mark that is open at the cursor, or "".
    kept
        Beginning of ``current`` that bash leaves alone when it completes.
    """

    words: tuple[str, ...]
    current: str
    quote: str
    kept: str


def typed(line: str) -> Typed:
    r"""Take a line apart as a shell does, an open quote and an escape at its end allowed.

    Examples
    --------
    >>> typed('ramfront check a --set "rod=2 i')
    Typed(words=('ramfront', 'check', 'a', '--set'), current='rod=2 i', quote='"', kept='')
    >>> typed(r"x rod=2\ i")
    Typed(words=('x',), current='rod=2 i', quote='', kept='rod=')
    """
    words: list[str] = []
    current = quote = kept = ""
    inside = False
    characters = iter(line)
    for character in characters:
        if quote:
            if character == quote:
                quote = ""
            elif character == "\\" and quote == '"':
                following = next(characters, "")
                current += following if following in '\\"$`' else f"\\{following}"
            else:
                current += character
        elif character in "'\"":
            quote, inside, kept = character, True, current
        elif character == "\\":
            current, inside = current + next(characters, ""), True
        elif character.isspace():
            if inside:
                words.append(current)
            current, inside, kept = "", False, ""
        else:
            current, inside = current + character, True
            if character in _BREAKS:
                kept = current
    return Typed(tuple(words), current, quote, kept)


def for_bash(found: Sequence[str], line: Typed) -> list[str]:
    """Candidates as bash puts them in: without what it leaves alone, escaped as the quote asks."""
    rests = [one.removeprefix(line.kept) for one in found]
    if line.quote == '"':
        return ["".join(f"\\{c}" if c in '\\"$`' else c for c in rest) for rest in rests]
    if line.quote:
        return [rest for rest in rests if "'" not in rest]
    return [
        "".join(c if c in _PLAIN or not c.isascii() else f"\\{c}" for c in rest) for rest in rests
    ]


# --- what a study offers ------------------------------------------------------------------------


def _study_folder(words: Sequence[str]) -> Path | None:
    """Folder of the first study among the words of a call."""
    for word in words:
        path = Path(word).expanduser()
        folder = path.parent if path.name == STUDY_FILE else path
        if (folder / STUDY_FILE).is_file():
            return folder
    return None


def _rows(folder: Path | None, category: str) -> list[list[str]]:
    """Rows of a price list, none where it cannot be read."""
    if folder is None:
        return []
    try:
        text = (folder / f"{category}.csv").read_text(encoding="utf-8-sig")
        return list(csv.reader(text.splitlines()))
    except (OSError, ValueError, csv.Error):
        return []


class Keys:
    """Keys that ``--set`` knows, of one study."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self._schema: dict[str, Any] = json.loads(published_schema())
        self.categories = tuple(self._table(self._schema["properties"]["owned"]))

    def _resolved(self, spot: Mapping[str, Any]) -> Mapping[str, Any]:
        spot = spot.get("allOf", [spot])[0]
        spot = next((one for one in spot.get("anyOf", ()) if one.get("type") != "null"), spot)
        if "$ref" in spot:
            found: Mapping[str, Any] = self._schema["$defs"][spot["$ref"].rpartition("/")[2]]
            return found
        return spot

    def _table(self, spot: Mapping[str, Any]) -> dict[str, Any]:
        """Keys of a table, none of what is no table."""
        found: dict[str, Any] = self._resolved(spot).get("properties", {})
        return found

    def _at(self, steps: Sequence[str]) -> Mapping[str, Any]:
        spot: Mapping[str, Any] = self._schema
        for step in steps:
            spot = self._table(spot).get(step, {})
        return spot

    def below(self, steps: Sequence[str]) -> list[str]:
        """Keys one step further: ``rod=`` and ``frame.`` at the top, ``frame.stroke=`` below."""
        way = ".".join([*steps, ""])
        if steps and steps[0] in self.categories:
            head = next(iter(_rows(self.folder, steps[0])), [])
            return [f"{way}{name}=" for name in head if name != "name"]
        table = self._table(self._at(steps))
        tables = [f"{way}{key}." for key, spot in table.items() if self._table(spot)]
        if not steps:
            parts = [f"{category}=" for category in self.categories]
            fields = [f"{category}." for category in self.categories]
            return [*parts, *fields, *(one for one in tables if one != "owned.")]
        return [*tables, *(f"{way}{key}=" for key, spot in table.items() if not self._table(spot))]

    def values(self, key: str) -> list[str]:
        """Values of a key, where there are only some: names of parts, words of a choice."""
        if key in self.categories:
            head, *rows = _rows(self.folder, key) or [[]]
            column = head.index("name") if "name" in head else 0
            return [row[column] for row in rows if len(row) > column and row[column]]
        spot = self._resolved(self._at(key.split(".")))
        return [str(value) for value in spot.get("enum", ())]


def assignments(keys: Keys, current: str, *, values: bool = True) -> list[str]:
    """Candidates for ``KEY=VALUE``: one more step of the key, or its values."""
    key, sign, _ = current.partition("=")
    if sign:
        found = [f"{key}={value}" for value in keys.values(key)] if values else []
    else:
        steps = key.split(".")
        found = keys.below(steps[:-1])
    return [one for one in found if one.startswith(current)]


def changes(keys: Keys, current: str) -> list[str]:
    """The same for ``KEY=VALUE;KEY=VALUE``, the last of them."""
    before, mark, last = current.rpartition(";")
    room = last[: len(last) - len(last.lstrip())]
    return [f"{before}{mark}{room}{one}" for one in assignments(keys, last.lstrip())]


def dimensions(keys: Keys, current: str) -> list[str]:
    """Candidates for a thing to vary: a category by itself, or parts of it between marks."""
    key, sign, value = current.partition("=")
    if not sign:
        alone = [category for category in keys.categories if category.startswith(current)]
        return [*alone, *assignments(keys, current)]
    before, mark, last = value.rpartition("|")
    room = last[: len(last) - len(last.lstrip())]
    found = assignments(keys, f"{key}={last.lstrip()}")
    return [f"{key}={before}{mark}{room}{one.partition('=')[2]}" for one in found]


# --- paths --------------------------------------------------------------------------------------


def paths(current: str, *, studies: bool, endings: tuple[str, ...] = ()) -> list[str]:
    """Folders that begin so: a study's name is whole, others may be gone into."""
    before, slash, start = current.rpartition("/")
    folder = Path(f"{before}{slash}" or ".").expanduser()
    try:
        entries = sorted(folder.iterdir())
    except OSError:
        return []
    found = []
    for entry in entries:
        if entry.name.startswith(start) and not (entry.name.startswith(".") and not start):
            whole = f"{before}{slash}{entry.name}"
            if entry.is_dir():
                study = studies and (entry / STUDY_FILE).is_file()
                found.append(whole if study else f"{whole}/")
            elif entry.name.endswith(endings):
                found.append(whole)
    return found


# --- a call -------------------------------------------------------------------------------------


Choices = Mapping[str, Sequence[str]]
"""Words that a parameter may be, by its name."""


def _offers(words: Sequence[str], name: str, choices: Choices) -> Callable[[str], list[str]]:
    """What completes a value of the parameter with a name."""
    known: dict[str, Callable[[str], list[str]]] = {
        "sets": lambda current: assignments(Keys(_study_folder(words)), current),
        "to": lambda current: [
            one
            for one in assignments(Keys(_study_folder(words)), current)
            if not one.endswith(".") and "." not in one.partition("=")[0]
        ],
        "variants": lambda current: changes(Keys(_study_folder(words)), current),
        "vary": lambda current: dimensions(Keys(_study_folder(words)), current),
        "study": lambda current: paths(current, studies=True),
        "places": lambda current: paths(current, studies=True, endings=SAVED_ANSWERS),
        "folder": lambda current: paths(current, studies=False),
        "out": lambda current: paths(current, studies=False),
    }
    few = choices.get(name, ())
    return known.get(name, lambda current: [one for one in few if one.startswith(current)])


def _options(command: Any) -> Iterator[tuple[str, Any]]:
    for parameter in command.params:
        if parameter.param_type_name == "option":
            for name in parameter.opts:
                yield name, parameter


def _one_step(
    commands: Mapping[str, Any], choices: Choices, words: Sequence[str], current: str
) -> list[str]:
    if not words:
        names = [name for name, command in commands.items() if not command.hidden]
        return [name for name in (*names, "--help", "--version") if name.startswith(current)]
    command = commands.get(words[0])
    if command is None:
        return []
    options = dict(_options(command))
    positional: list[str] = []
    awaited = None
    for word in words[1:]:
        if awaited is not None:
            awaited = None
        elif word.startswith("--"):
            asked = options.get(word)
            awaited = None if asked is None or asked.is_flag else asked
        else:
            positional.append(word)
    if awaited is not None:
        return _offers(words[1:], awaited.name, choices)(current)
    if current.startswith("-"):
        return [name for name in (*options, "--help") if name.startswith(current)]
    arguments = [one for one in command.params if one.param_type_name == "argument"]
    last = min(len(positional), len(arguments) - 1)
    if not arguments or (len(positional) > last and arguments[last].nargs != -1):
        return []
    return _offers(words[1:], arguments[last].name, choices)(current)


def candidates(
    commands: Mapping[str, Any], choices: Choices, words: Sequence[str], current: str
) -> list[str]:
    """Words that may stand at the cursor of a call.

    Parameters
    ----------
    commands
        Commands of the group by name.
    choices
        Words that parameters may be.
    words
        Whole words after ``ramfront``.
    current
        Beginning of the word at the cursor; "" for none.
    """
    found = _one_step(commands, choices, words, current)
    while len(found) == 1 and found[0].endswith(UNFINISHED) and found[0] != current:
        current = found[0]
        found = _one_step(commands, choices, words, current) or [current]
    return list(dict.fromkeys(found))
