"""Help and refusals in a builder's words, without types of a programming language."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from typer import BadParameter
from typer.core import TyperGroup

from optimise.errors import MOST_SHOWN, shown

_REFUSAL: Any = BadParameter.__base__
"""Kind of all refusals of typer, which gives it no public name."""
_LONG = f"{{{MOST_SHOWN - 1},}}"
_LONG_WORDS = re.compile(rf"""'[^']{_LONG}'|"[^"]{_LONG}"|\S{_LONG}""")


class PlainHelp(TyperGroup):
    """Commands whose flags and arguments have no type beside them: their text says what they are.

    An option with a value has a name for it, or the words among which to choose.
    """

    def get_params(self, ctx: Any) -> list[Any]:
        """Options of the group."""
        return _plain(super().get_params(ctx))

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Command by its name."""
        command = super().get_command(ctx, cmd_name)
        if command is not None:
            _plain(command.get_params(ctx))
        return command

    def make_context(self, *given: Any, **more: Any) -> Any:
        """Read the options of a call."""
        with _told_plainly():
            return super().make_context(*given, **more)

    def invoke(self, ctx: Any) -> Any:
        """Run the command that is called."""
        with _told_plainly():
            return super().invoke(ctx)


@contextmanager
def _told_plainly() -> Iterator[None]:
    """Refusals without types of a programming language, long words cut as elsewhere."""
    try:
        yield
    except _REFUSAL as error:
        message = error.message.removeprefix("Value error, ")
        error.message = _LONG_WORDS.sub(_cut, message)
        raise


def _cut(word: re.Match[str]) -> str:
    mark = word[0][0] if word[0][0] in "'\"" else ""
    return f"{mark}{shown(word[0].strip(mark), MOST_SHOWN - 2)}{mark}"


def _plain(parameters: list[Any]) -> list[Any]:
    for one in parameters:
        if one.param_type_name == "argument":
            setattr(one, "display_type_rich", _nothing)  # noqa: B010 - so far typer has no other way
        elif one.is_flag:
            one.metavar = ""
    return parameters


def _nothing(ctx: Any) -> str:
    return ""
