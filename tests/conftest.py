"""Tests keep the memory of freed columns, as the command does."""

from optimise.memory import keep_freed

keep_freed()
