"""Imports go one way: from the command line down to the ground floor."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "optimise"
SOURCES = sorted(PACKAGE.rglob("*.py"))
FLOORS = ("ground", "physics", "machine", "study", "search", "report", "cli")
GROUND = {
    *("__init__", "columns", "compiled", "elementary", "errors", "files", "memory", "normal"),
    *("roots", "unit_scales", "units"),
}


def module_of(path: Path) -> str:
    parts = ("optimise", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_of(path) for path in SOURCES}


def floor_of(module: str) -> str:
    """Floor of a dotted module name under the package."""
    parts = module.split(".")
    name = parts[1] if len(parts) > 1 else "__init__"
    if name in FLOORS:
        return name
    return "ground" if name in GROUND else "cli"


def imports_of(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            assert node.module is not None
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return found & MODULES


@pytest.mark.parametrize("path", SOURCES, ids=module_of)
def test_imports_go_down(path: Path) -> None:
    own = floor_of(module_of(path))
    for name in imports_of(path):
        assert FLOORS.index(floor_of(name)) <= FLOORS.index(own), f"{path} imports {name}"


def test_no_circles_within_a_floor() -> None:
    graph = {module_of(path): imports_of(path) - {module_of(path)} for path in SOURCES}
    graph["optimise"] -= MODULES
    done: set[str] = set()
    while len(done) < len(graph):
        free = {name for name, needs in graph.items() if name not in done and needs <= done}
        assert free, f"circle among {sorted(set(graph) - done)}"
        done |= free


def test_the_machine_floor_reads_no_files() -> None:
    for path in SOURCES:
        if floor_of(module_of(path)) in ("physics", "machine"):
            text = path.read_text(encoding="utf-8")
            for word in ("open(", "pathlib", "import os", "json", "csv"):
                assert word not in text, f"{path}: {word}"
