"""Help and refusals in a builder's words, without types of a programming language."""

from __future__ import annotations

from typing import Any

from typer import BadParameter
from typer.core import TyperGroup


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

    def invoke(self, ctx: Any) -> Any:
        """Run the command that is called."""
        try:
            return super().invoke(ctx)
        except BadParameter as error:
            error.message = error.message.removeprefix("Value error, ")
            raise


def _plain(parameters: list[Any]) -> list[Any]:
    for one in parameters:
        if one.param_type_name == "argument":
            setattr(one, "display_type_rich", _nothing)  # noqa: B010 - so far typer has no other way
        elif one.is_flag:
            one.metavar = ""
    return parameters


def _nothing(ctx: Any) -> str:
    return ""
