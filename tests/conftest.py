"""Tests keep the memory of freed columns, as the command does; how many sub-lists to search."""

from __future__ import annotations

import gc
import os
import shutil
import tempfile

import pytest

from optimise.memory import keep_freed
from tests.report.example import SHARED

SUB_LISTS = 100
"""Random sub-lists on which the exact front is held against brute force."""

keep_freed()
gc.disable()


def pytest_collection_finish() -> None:
    """What was imported and collected stays: the collector need not look at it again and again."""
    gc.freeze()
    gc.enable()


def pytest_configure(config: pytest.Config) -> None:
    """A folder for what the workers of a run share; they inherit its name."""
    if not hasattr(config, "workerinput"):
        os.environ[SHARED] = tempfile.mkdtemp(prefix="ramfront-shared-")


def pytest_unconfigure(config: pytest.Config) -> None:
    """The folder goes with the run."""
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(SHARED), ignore_errors=True)


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--sublists N``: as many random sub-lists for the exact front against brute force."""
    parser.addoption("--sublists", type=int, default=SUB_LISTS, help="default: 100")


@pytest.fixture
def sublists(request: pytest.FixtureRequest) -> int:
    count: int = request.config.getoption("--sublists")
    return count
