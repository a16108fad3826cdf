"""What can go wrong, as one tree of exceptions, and the words in which a person is told.

::

    Exception
    +-- RamfrontError        exit code 1: anything that this package reports by itself
        +-- StudyError       exit code 2: a study or a price list is at fault; lists every fault
        +-- CallError        exit code 2: the command line is at fault
        +-- OutputError      exit code 1: a result could not be written
    +-- ValueError
        +-- units.UnitFault  one quantity is at fault; whoever knows the place makes it a ``Fault``

Every message may be printed as it is: text taken from a study, a price list or a command line has
its control characters, line breaks and direction marks escaped and is cut to a readable length.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import ClassVar, TypeVar

T = TypeVar("T")

MOST_SHOWN = 80
"""Longest piece of foreign text in a message, in characters."""

MOST_FAULTS = 200
"""Most faults of one study that are written out; the rest are counted."""

_MOST_EXPLAINED = 400
_LONGEST_GUESSED = 100
_ELLIPSIS = "…"
_SHORT_ESCAPES = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}

_DIRECTIONS = {
    code: f"\\u{code:04x}"
    for code in (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
}


def in_order(text: str) -> str:
    r"""Text of an answer with its direction marks escaped: none turns what stands behind it about.

    Examples
    --------
    >>> print(in_order("rod\u202e mm 05"))
    rod\u202e mm 05
    """
    return text.translate(_DIRECTIONS)


def shown(text: str, most: int | None = MOST_SHOWN) -> str:
    r"""Foreign text made safe to print on one line.

    Parameters
    ----------
    text
        Anything, lone surrogates and control characters included.
    most
        Longest answer in characters, the ellipsis that marks a cut included; None never cuts.

    Examples
    --------
    >>> print(shown("rod\nsteel"))
    rod\nsteel
    >>> shown("abcdef", most=4)
    'abc…'
    """
    if most is not None and most < 1:
        raise ValueError(f"most must be at least 1, not {most}")
    if (most is None or len(text) <= most) and text.isprintable():
        return text
    pieces: list[str] = []
    length = 0
    for character in text:
        piece = character if character.isprintable() else _escaped(character)
        length += len(piece)
        pieces.append(piece)
        if most is not None and length > most:
            while length > most - len(_ELLIPSIS):
                length -= len(pieces.pop())
            pieces.append(_ELLIPSIS)
            break
    return "".join(pieces)


def _escaped(character: str) -> str:
    code = ord(character)
    if character in _SHORT_ESCAPES:
        return _SHORT_ESCAPES[character]
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def quoted(text: str, most: int = MOST_SHOWN) -> str:
    """Foreign text as ``shown``, between quotation marks that count towards ``most`` (3 or more).

    Examples
    --------
    >>> print(quoted("24 inn"))
    "24 inn"
    """
    mark = "'" if '"' in text else '"'
    return f"{mark}{shown(text, most - 2)}{mark}"


def shown_path(path: str) -> str:
    """Path made safe to print, its middle left out where it is longer than any real one is.

    Examples
    --------
    >>> shown_path("studies/mine"), len(shown_path("a" * 5000))
    ('studies/mine', 400)
    """
    whole = shown(path, None)
    if len(whole) <= _MOST_EXPLAINED:
        return whole
    end = (_MOST_EXPLAINED - len(_ELLIPSIS)) // 2
    return f"{whole[: _MOST_EXPLAINED - len(_ELLIPSIS) - end]}{_ELLIPSIS}{whole[-end:]}"


def nearest(word: str, known: Iterable[str]) -> str:
    """Guess the known name that a mistyped word meant; "" when none is close.

    Upper and lower case are not told apart, except that an exact match comes before any other.
    Words over 100 characters are nobody's slip of the finger and get no guess.

    Examples
    --------
    >>> nearest("Strok", ["bore", "stroke", "rod"])
    'stroke'
    >>> nearest("colour", ["bore", "stroke", "rod"])
    ''
    """
    if len(word) > _LONGEST_GUESSED:
        return ""
    first_spelling: dict[str, str] = {}
    for name in known:
        if name == word:
            return name
        first_spelling.setdefault(name.casefold(), name)
    close = difflib.get_close_matches(word.casefold(), first_spelling, n=1)
    return first_spelling[close[0]] if close else ""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in one file.

    Attributes
    ----------
    path
        File or folder, as the user would type it.
    place
        Where in it: "line 12 (frame.stroke)", "row 3, column price"; "" for the whole file.
    found
        What stands there.
    expected
        What should stand there.
    hint
        What may help: the nearest known name, the units that fit; "" for nothing.

    Examples
    --------
    >>> print(Fault("study.toml", "line 12 (frame.stroke)", "24", 'a length, such as "24 in"'))
    study.toml, line 12 (frame.stroke): found 24, expected a length, such as "24 in"
    """

    path: str
    place: str
    found: str
    expected: str
    hint: str = ""

    def __str__(self) -> str:
        """One sentence on one line."""
        where = ", ".join(
            part for part in (shown_path(self.path), shown(self.place, _MOST_EXPLAINED)) if part
        )
        sentence = f"found {shown(self.found) or 'nothing'}"
        if self.expected:
            sentence += f", expected {shown(self.expected, _MOST_EXPLAINED)}"
        if self.hint:
            sentence += f"; {shown(self.hint, _MOST_EXPLAINED)}"
        return f"{where}: {sentence}" if where else sentence


class RamfrontError(Exception):
    """Anything that this package reports by itself; ``exit_code`` is what the command ends with."""

    exit_code: ClassVar[int] = 1


class StudyError(RamfrontError):
    """A study or a price list cannot be used; its text is a line for each fault, up to 200.

    Parameters
    ----------
    faults
        Every fault that was found, at least one.
    """

    exit_code: ClassVar[int] = 2

    faults: tuple[Fault, ...]

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        if not self.faults:
            raise ValueError("a StudyError needs at least one fault")
        super().__init__(self.faults)

    def __str__(self) -> str:
        """One line for each fault, up to :data:`MOST_FAULTS`, and how many more were found."""
        lines = [str(fault) for fault in self.faults[:MOST_FAULTS]]
        more = len(self.faults) - len(lines)
        if more:
            lines.append(f"and {more} more at least; they may come of the same slip")
        return "\n".join(lines)


class CallError(RamfrontError):
    """The command line asks for something that cannot be: an unknown name, a bad option."""

    exit_code: ClassVar[int] = 2


class Gathered:
    """Faults of the parts of one call, told together.

    Examples
    --------
    >>> faults = Gathered()
    >>> three = faults.look(lambda: 3)
    >>> faults.needed(three)
    3
    """

    def __init__(self) -> None:
        self._errors: list[StudyError | CallError] = []

    def look(self, part: Callable[[], T]) -> T | None:
        """What a part gives; None where it is at fault, which :meth:`tell` will say."""
        try:
            return part()
        except (StudyError, CallError) as error:
            self._errors.append(error)
            return None

    def tell(self) -> None:
        """Raise what was found: an error by itself as it is, several as one with all lines."""
        if len(self._errors) == 1:
            raise self._errors[0]
        if self._errors:
            lines = [line for error in self._errors for line in str(error).splitlines()]
            raise CallError("\n".join(dict.fromkeys(lines)))

    def needed(self, given: T | None) -> T:
        """What a part gave, after all faults are told."""
        self.tell()
        assert given is not None
        return given


class OutputError(RamfrontError):
    """A result could not be written; what stood there before is still whole."""

    exit_code: ClassVar[int] = 1
