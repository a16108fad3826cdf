"""``python -m optimise``: the command line."""

from optimise.cli import run

run()
