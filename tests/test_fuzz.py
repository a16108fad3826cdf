"""The search for breaking files finds what breaks, and tells a case again."""

from __future__ import annotations

import mmap
import time
import warnings
from collections.abc import Callable

import pytest

from tests.fuzz import cases
from tests.fuzz.cases import Remembered, case_of, judged, kind_of, run_case
from tests.fuzz.seeds import STUDY, ground


def slip(*_: object) -> str:
    return str(1 // 0)


def warn() -> str:
    warnings.warn("old ways", DeprecationWarning, stacklevel=1)
    return ""


def hang() -> str:
    while True:
        try:
            time.sleep(10.0)
        except Exception:
            continue


def hog() -> str:
    """Memory asked of the system: what is freed and kept by the process would not count."""
    with mmap.mmap(-1, 90_000_000) as block:
        for page in range(0, len(block), mmap.PAGESIZE):
            block[page] = 1
    return ""


@pytest.mark.parametrize(
    ("work", "told"),
    [
        (slip, "ZeroDivisionError"),
        (warn, "old ways"),
        (lambda: "a \x1b[2J b", "does not print"),
        (hang, "given up"),
        (hog, "MB more"),
        (lambda: "rod.csv, row 3: found 1", ""),
    ],
    ids=["exception", "warning", "control character", "hang", "memory", "own words"],
)
def test_what_a_case_must_not_do_is_told(
    work: Callable[[], str], told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cases, "_GIVEN_UP", 0.2)
    monkeypatch.setattr(cases, "MOST_MEMORY", 50_000_000)
    found = judged(work).told
    assert told in found
    assert bool(found) == bool(told)


def test_a_case_is_the_same_again_with_what_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    remembered = Remembered()
    with ground() as place:
        plain = [run_case("again", number, place).ended for number in range(5)]
        with remembered.reading():
            quick = [run_case("again", number, place, remembered) for number in range(5)]
        assert [outcome.ended for outcome in quick] == plain
        number = next(nth for nth in range(5) if STUDY in case_of("again", nth, place)[1])
        monkeypatch.setattr(cases, "load_study", slip)
        finding = run_case("again", number, place).finding
    assert finding is not None
    assert finding.case == f"again:{number}"
    assert kind_of(finding) == "ZeroDivisionError: integer division or modulo by zero"


def test_a_reader_that_changes_what_is_remembered_is_caught(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    remembered = Remembered()
    with (
        ground() as place,
        pytest.raises(AssertionError, match="was changed"),
        remembered.reading(),
    ):
        run_case("again", 0, place, remembered)
        next(iter(remembered._lists.values())).names.append("x")
