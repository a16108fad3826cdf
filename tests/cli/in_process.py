"""Commands in the process of the tests, where a process of their own is not the point."""

from __future__ import annotations

import json
from typing import Any

from typer.testing import CliRunner, Result

from optimise.cli import app

WIDE = {"COLUMNS": "200", "NO_COLOR": "1", "TERMINAL_WIDTH": "100"}


def called(*words: str) -> Result:
    """What a command does: exit code, output, exception."""
    return CliRunner().invoke(app, list(words), env=WIDE)


def said(*words: str) -> str:
    """Standard output of a command that answers."""
    done = called(*words)
    assert done.exit_code == 0, (words, done.output, done.exception)
    return done.stdout


def answered(*words: str) -> dict[str, Any]:
    """Answer of a command for programs."""
    found: dict[str, Any] = json.loads(said(*words, "--json"))
    return found
