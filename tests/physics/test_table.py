"""The table of check values is that of the rows, up to the last digits of another machine."""

import pytest

from tests.checks import BEGIN, DEVELOPERS, END, differences, kept, tables
from tests.references.checks import CHECKS

STALE = "run python -m tests.checks"


def test_table_is_current():
    text = DEVELOPERS.read_text("utf-8")
    assert text.count(BEGIN) == text.count(END) == 1
    assert differences(kept(text), tables()) == [], STALE


def test_every_check_is_in_the_table():
    rows = [line.split(" | ")[0].removeprefix("| ") for line in tables().splitlines()]
    assert [check.id for check in CHECKS if check.id not in rows] == []


ROW = "| H01 | a | 2 | {} | {} | 0.5 | m | a book | published | half a digit |"


@pytest.mark.parametrize(("got", "gap"), [("2.100000", "+0.1"), ("2.1000001", "+0.1")])
def test_last_digit_of_another_machine_passes(got, gap):
    assert differences(ROW.format(got, gap), ROW.format("2.1", "+0.1")) == []


@pytest.mark.parametrize(
    "changed",
    [
        ROW.format("2.101", "+0.1"),
        ROW.format("2.1", "+0.2"),
        ROW.format("2.1", "+0.1").replace("a book", "another"),
        ROW.format("2.1", "+0.1").replace("0.5", "0.6"),
        ROW.format("nothing", "+0.1"),
        ROW.format("2.1", "+0.1") + "\n\n",
    ],
)
def test_anything_else_is_seen(changed):
    assert differences(changed, ROW.format("2.1", "+0.1")) != []


def test_line_that_is_missing_is_seen():
    text = tables()
    assert differences(text.rpartition("| ")[0], text)
    assert differences("\n".join(text.splitlines()[:-1]), text)
