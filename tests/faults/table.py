"""Writes every fault, what must come of it, and the tests that provoke it into DEVELOPERS.md.

Run ``python -m tests.faults.table`` after a change of rows or tests; a test fails until then.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from tests.faults.rows import FAULTS, Row

TESTS = Path(__file__).parents[1]
DEVELOPERS = TESTS.parent / "DEVELOPERS.md"
BEGIN, END = "<!-- table of python -m tests.faults.table -->", "<!-- end of table -->"


@cache
def functions(file: str) -> dict[str, str]:
    """Test functions of a file below ``tests/``, each with its docstring on one line."""
    tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
    return {
        node.name: " ".join((ast.get_docstring(node) or "").split())
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }


def _test(named: str) -> str:
    file, _, function = named.partition("::")
    assert function in functions(file), named
    return f"`{named}`"


def _line(row: Row) -> str:
    result = "tested" if row.tests and not row.open else "tested in part" if row.tests else "open"
    result += f": {row.open}" if row.open else ""
    cells = (row.fault, row.behaviour or "-", "<br>".join(map(_test, row.tests)) or "-", result)
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


def count() -> str:
    """How many rows there are, and how many of them are tested."""
    whole = sum(bool(row.tests) and not row.open for row in FAULTS)
    return (
        f"{len(FAULTS)} kinds of fault: {whole} tested, {len(FAULTS) - whole} in part or not yet."
    )


def table() -> str:
    """The table with its count."""
    head = "| fault | what must come of it | tests | result |\n| --- | --- | --- | --- |"
    return f"{count()}\n\n" + "\n".join([head, *map(_line, FAULTS)])


def document() -> str:
    """DEVELOPERS.md with the table of today."""
    before, _, rest = DEVELOPERS.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{table()}\n\n{END}{after}"


if __name__ == "__main__":
    DEVELOPERS.write_text(document(), encoding="utf-8")
