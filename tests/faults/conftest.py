"""A warm process for the session, and a study small enough to be asked a hundred times."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from optimise.machine.parts import CATEGORIES
from optimise.study.starter import STARTER_FILES, starter_text
from tests.faults.nursery import Nursery

SEARCHED = ("rod", "valve", "return_hose", "filter", "tank", "suction_hose")


def write_small(folder: Path, change: Callable[[str, str], str] = lambda _, text: text) -> Path:
    """A starter without buyers in which six categories are open: quick to search.

    ``change(file, text)`` may change each file.
    """
    folder.mkdir()
    for file in STARTER_FILES:
        text = starter_text(file, "planner")
        if file == "study.toml":
            kept = [category for category in CATEGORIES if category not in SEARCHED]
            text = text.split("[[buyers]]")[0] + f"\n[space]\nkeep = {json.dumps(kept)}\n"
        (folder / file).write_text(change(file, text), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def desk() -> Iterator[Path]:
    """Folder that a stranger may look into."""
    folder = Path(tempfile.mkdtemp(prefix="ramfront-faults-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def nursery(desk: Path) -> Iterator[Nursery]:
    found = Nursery(desk)
    yield found
    found.close()


@pytest.fixture(scope="session")
def study(desk: Path) -> Path:
    return write_small(desk / "small")


@pytest.fixture
def out(desk: Path) -> Iterator[Path]:
    """A folder for results."""
    folder = Path(tempfile.mkdtemp(dir=desk))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)
