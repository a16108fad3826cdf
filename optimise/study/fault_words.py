"""Words of faults in a study: what was written, where, and which name was meant."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from optimise.errors import nearest, quoted
from optimise.study.places import Loc

_MOST_COMPARED = 10_000
_MOST_NAMED = 12


def described(value: object) -> str:
    """Value from a TOML file in the words of TOML, safe to print."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value)


def meant(word: str, known: Iterable[str]) -> str:
    """Hint at the known name that a word meant, or at all of them where they are few."""
    names = tuple(known)
    if not names:
        return "none is there"
    close = nearest(word, names)
    if close:
        return guess(close)
    told = [quoted(name) for name in names] if any("," in name for name in names) else names
    return f"known: {', '.join(told)}" if len(names) <= _MOST_NAMED else ""


class Guesses:
    """Hints for one load: ``meant`` as long as the names compared with are not far too many."""

    def __init__(self) -> None:
        self._left = _MOST_COMPARED

    def meant(self, word: str, known: Collection[str]) -> str:
        """Hint as :func:`meant` gives it; "" once enough was compared."""
        if len(known) > self._left:
            return ""
        self._left -= len(known)
        return meant(word, known)


def guess(name: str) -> str:
    """Hint at the one name that was meant; "" without one."""
    return f"did you mean {quoted(name)}?" if name else ""


def listed_names(names: Sequence[str]) -> str:
    """Names in quotation marks, cut where they are many."""
    shortened = [quoted(name) for name in names[:_MOST_NAMED]]
    return ", ".join(shortened) + (", ..." if len(names) > _MOST_NAMED else "")


def dotted(loc: Loc) -> str:
    """Way into the data as a person writes it; entries of a list count from 1.

    Examples
    --------
    >>> dotted(("wood", 0, "share"))
    'wood.1.share'
    """
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in loc)
