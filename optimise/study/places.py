"""TOML text to data, and the line on which each key, table and array item stands."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from typing import Any, TypeAlias

from optimise.errors import Fault, StudyError, quoted

Loc: TypeAlias = tuple[str | int, ...]
"""Way into the data: keys, and positions in arrays counted from 0."""

DEEPEST = 20
"""Most brackets inside one another, and most dots in one key."""
LONGEST_NUMBER = 100
"""Longest number outside quotation marks, in characters."""

_MULTILINE = r'"""(?:[^"\\]++|\\.|"(?!""))*+""""{0,2}+' r"|'''(?:[^']++|'(?!''))*+''''{0,2}+"
_ONE_LINE = r'"(?:[^"\\\n]++|\\[^\n])*+"' r"|'[^'\n]*+'"
_WORD = r"[A-Za-z0-9_+:-]"
_PLAIN = (
    rf"{_MULTILINE}|{_ONE_LINE}|\#[^\n]*+|{_WORD}{{1,{LONGEST_NUMBER}}}+(?!{_WORD})"
    r"|[^\[\]{}.\n=,\#A-Za-z0-9_+:-]"
)
_TOKEN = re.compile(
    rf"(?:{_PLAIN})*+(?:(?P<open>[\[{{])|(?P<close>[\]}}])|(?P<word>{_WORD}++)|(?P<dot>\.)"
    rf"|(?P<end>[\n=,](?:{_PLAIN}|[\n=,])*+)|\Z)",
    re.DOTALL,
)
"""What may be too deep or too long, past all that cannot be."""
_STRING = re.compile(rf"{_MULTILINE}|{_ONE_LINE}", re.DOTALL)
_KEY_PART = re.compile(rf"{_ONE_LINE}|[A-Za-z0-9_-]++")
_SCALAR = re.compile(r"[^,\]}#\n]++")
_SPACE = re.compile(r"[ \t]*+")
_BLANK = re.compile(r"(?:[ \t\r\n]++|\#[^\n]*+)*+")
_POSITION = re.compile(r"(.*) \(at line (\d+), column (\d+)\)", re.DOTALL)
_AT_END = " (at end of document)"


def parse_toml(text: str, path: str) -> dict[str, Any]:
    """Data of a TOML text.

    Parameters
    ----------
    text
        With plain line feeds.
    path
        Named in faults.

    Raises
    ------
    StudyError
        The text is no TOML (path:line:column and the line are named), or too deep, or holds a
        number too long to be one.
    """
    _refuse_monsters(text, path)
    alone = text.find("\r")
    if alone >= 0:
        place, found = f"line {text.count(chr(10), 0, alone) + 1}", "a line that ends with CR alone"
        raise StudyError([Fault(path, place, found, "TOML", "save the file with LF line ends")])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise StudyError([_syntax_fault(text, path, str(error))]) from None
    except (RecursionError, ValueError, OverflowError) as error:
        fault = Fault(path, "", "TOML that cannot be read", "plain TOML", str(error))
        raise StudyError([fault]) from None


def _refuse_monsters(text: str, path: str) -> None:
    """Refuse what would cost the parser its stack or its time, before it starts."""
    depth = dots = 0
    for token in _TOKEN.finditer(text):
        group = token.lastgroup or ""
        if group == "word":
            word = token[group]
            if word[0] in "0123456789+-":
                found = f"a number of {len(word)} characters"
                raise _monster(text, path, token.start(group), found, LONGEST_NUMBER, "characters")
        elif group == "dot":
            dots += 1
            if dots > DEEPEST:
                found = f"a key of more than {DEEPEST + 1} parts"
                raise _monster(text, path, token.start(group), found, DEEPEST, "dots in a key")
        elif group == "open":
            depth, dots = depth + 1, 0
            if depth > DEEPEST:
                found = f"more than {DEEPEST} brackets inside one another"
                raise _monster(text, path, token.start(group), found, DEEPEST, "levels")
        else:
            depth, dots = max(depth - (group == "close"), 0), 0


def _monster(text: str, path: str, at: int, found: str, most: int, what: str) -> StudyError:
    line = text.count("\n", 0, at) + 1
    return StudyError([Fault(path, f"line {line}", found, f"at most {most} {what}")])


_PLAINER = {
    "Cannot overwrite a value": "the key is set already",
    "Cannot declare": "the table stands in the file already",
    "Cannot mutate immutable namespace": "the table is closed already",
    "Expected '=' after a key": "a key needs an equals sign and a value",
    "Invalid value": "no TOML value stands here; text goes between quotation marks",
    "Invalid statement": "a line is a key = value, a [table] or a # comment",
    "Unclosed array": "the list is not closed",
    "Unterminated string": "the text is not closed",
    "Illegal character '\\n'": "the text is not closed on its line",
    "Expected newline or end of document": "one key = value to a line",
}


def _syntax_fault(text: str, path: str, message: str) -> Fault:
    lines = text.split("\n")
    match = _POSITION.fullmatch(message)
    if match is None:
        reason = message.removesuffix(_AT_END)
        line, column = len(lines), len(lines[-1]) + 1
    else:
        reason, line, column = match[1], int(match[2]), int(match[3])
    while match is None and line > 1 and not lines[line - 1].strip():
        line -= 1
        column = len(lines[line - 1]) + 1
    plainer = next((ours for theirs, ours in _PLAINER.items() if reason.startswith(theirs)), reason)
    written = lines[line - 1] if line <= len(lines) else ""
    found = quoted(written.strip()) if written.strip() else "the end of the line"
    return Fault(f"{path}:{line}:{column}", "", found, "TOML", plainer)


def lines_of(text: str) -> dict[Loc, int]:
    r"""Line, counted from 1, of each key, table and array item of a text that is valid TOML.

    Examples
    --------
    >>> lines_of('[frame]\nstroke = "24 in"')[("frame", "stroke")]
    2
    """
    return _Locator(text).run()


class _Locator:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [found.start() for found in re.finditer("\n", text)]
        self.lines: dict[Loc, int] = {}
        self.counts: dict[Loc, int] = {}

    def run(self) -> dict[Loc, int]:
        table: Loc = ()
        while self._skip(_BLANK) < len(self.text):
            if self.text.startswith("[[", self.at):
                table = self._array_item()
            elif self.text[self.at] == "[":
                table = self._table()
            else:
                self._pair(table)
        return self.lines

    def _skip(self, pattern: re.Pattern[str]) -> int:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at
        return self.at

    def _note(self, loc: Loc, at: int) -> None:
        self.lines.setdefault(loc, bisect_right(self.breaks, at - 1) + 1)

    def _key(self) -> list[str]:
        parts = []
        while True:
            self._skip(_SPACE)
            start = self.at
            self._skip(_KEY_PART)
            parts.append(_plain(self.text[start : self.at]))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def _resolved(self, parts: list[str]) -> Loc:
        """Way of a table header; an array of tables on it means its newest item."""
        loc: Loc = ()
        for part in parts:
            loc = (*loc, part)
            if loc in self.counts:
                loc = (*loc, self.counts[loc] - 1)
        return loc

    def _note_way(self, base: Loc, loc: Loc, at: int) -> None:
        for length in range(len(base) + 1, len(loc) + 1):
            self._note(loc[:length], at)

    def _table(self) -> Loc:
        start = self.at
        self.at += 1
        loc = self._resolved(self._key())
        self.at += 1
        self._note_way((), loc, start)
        return loc

    def _array_item(self) -> Loc:
        start = self.at
        self.at += 2
        parts = self._key()
        self.at += 2
        array = (*self._resolved(parts[:-1]), parts[-1])
        count = self.counts.get(array, 0)
        self.counts[array] = count + 1
        self._note_way((), (*array, count), start)
        return (*array, count)

    def _pair(self, table: Loc) -> None:
        start = self.at
        loc = (*table, *self._key())
        self._note_way(table, loc, start)
        self.at += 1
        self._skip(_SPACE)
        self._value(loc)

    def _value(self, loc: Loc) -> None:
        letter = self.text[self.at : self.at + 1]
        if letter == "[":
            self._array(loc)
        elif letter == "{":
            self._inline_table(loc)
        elif letter in ('"', "'"):
            self._skip(_STRING)
        else:
            self._skip(_SCALAR)

    def _array(self, loc: Loc) -> None:
        self.at += 1
        index = 0
        while self.text[self._skip(_BLANK)] != "]":
            self._note((*loc, index), self.at)
            self._value((*loc, index))
            index += 1
            self._skip(_BLANK)
            self.at += self.text[self.at] == ","
        self.at += 1

    def _inline_table(self, loc: Loc) -> None:
        self.at += 1
        while self.text[self._skip(_BLANK)] != "}":
            self._pair(loc)
            self._skip(_BLANK)
            self.at += self.text[self.at] == ","
        self.at += 1


def _plain(part: str) -> str:
    """Key without its quotation marks and escapes."""
    return next(iter(tomllib.loads(f"{part} = 0"))) if part[:1] in ('"', "'") else part
