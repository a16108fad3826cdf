"""The table of faults is of today and leaves no test of this folder out."""

from __future__ import annotations

from pathlib import Path

from tests.faults.rows import FAULTS
from tests.faults.table import BEGIN, DEVELOPERS, END, document, functions


def test_the_table_is_current() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert text.count(BEGIN) == text.count(END) == 1
    assert text == document(), "run python -m tests.faults.table"


def test_every_test_of_the_folder_is_in_it_and_says_what_comes_of_it() -> None:
    listed = {named for row in FAULTS for named in row.tests}
    for path in Path(__file__).parent.glob("test_*.py"):
        if path == Path(__file__):
            continue
        for function, said in functions(f"faults/{path.name}").items():
            assert f"faults/{path.name}::{function}" in listed
            assert said, function


def test_a_row_is_tested_or_says_why_not() -> None:
    for row in FAULTS:
        assert row.tests or row.open, row.fault
        assert row.behaviour or not row.tests
