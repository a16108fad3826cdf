"""Messages that a person can act on and a terminal can print."""

import doctest
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise import errors
from optimise.errors import (
    CallError,
    Fault,
    OutputError,
    RamfrontError,
    StudyError,
    nearest,
    quoted,
    shown,
)

STROKE = Fault(
    "studies/x/study.toml",
    "line 12 (frame.stroke)",
    "24",
    'a length with its unit, such as "24 in" or "610 mm"',
)


def test_documented_examples() -> None:
    outcome = doctest.testmod(errors)
    assert outcome.attempted > 0
    assert outcome.failed == 0


@pytest.mark.parametrize(
    ("error", "exit_code"), [(RamfrontError, 1), (StudyError, 2), (CallError, 2), (OutputError, 1)]
)
def test_exit_codes(error: type[RamfrontError], exit_code: int) -> None:
    assert issubclass(error, RamfrontError)
    assert error.exit_code == exit_code
    assert f"{error.__name__} " in (errors.__doc__ or "")


def test_fault_is_one_sentence() -> None:
    assert str(STROKE) == (
        "studies/x/study.toml, line 12 (frame.stroke): found 24, "
        'expected a length with its unit, such as "24 in" or "610 mm"'
    )


def test_fault_of_a_whole_file_and_hint() -> None:
    fault = Fault("pumps.csv", "", "no such file", "a text file", 'did you mean "pump.csv"?')
    assert str(fault) == (
        'pumps.csv: found no such file, expected a text file; did you mean "pump.csv"?'
    )


def test_a_path_longer_than_any_is_cut_in_its_middle() -> None:
    told = str(Fault(f"{'a' * 5000}/pump.csv", "row 3", "nothing", "a part"))
    assert len(told) < 500
    assert "a…a" in told
    assert "a/pump.csv, row 3: found" in told


def test_fault_with_nothing_found() -> None:
    assert str(Fault("a.csv", "row 3, column price", "", "an amount of money")) == (
        "a.csv, row 3, column price: found nothing, expected an amount of money"
    )


def test_long_found_text_is_cut() -> None:
    assert str(Fault("a", "", "x" * 81, "")) == "a: found " + "x" * 79 + "…"
    assert str(Fault("a", "", "x" * 80, "")) == "a: found " + "x" * 80


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("rod\r\nsteel\tbar", r"rod\r\nsteel\tbar"),
        ("\x1b[31mred\x7f\x00", r"\x1b[31mred\x7f\x00"),
        ("a\u202egnp.exe", r"a\u202egnp.exe"),
        ("line\u2028break\u0085", r"line\u2028break\x85"),
        ("\ud800", r"\ud800"),
        ("\U000e0001", r"\U000e0001"),
        ("Ø 90 mm, 50 °C", "Ø 90 mm, 50 °C"),
    ],
)
def test_what_does_not_print_is_escaped(text: str, safe: str) -> None:
    assert shown(text) == safe
    assert safe in str(Fault(text, text, text, text, text))


def test_a_cut_never_splits_an_escape() -> None:
    assert shown("abc\u202e", most=8) == "abc…"
    assert shown("ab\u202e", most=8) == r"ab\u202e"
    assert shown("abcdef", most=1) == "…"
    with pytest.raises(ValueError, match="at least 1"):
        shown("a", most=0)


@given(st.text(), st.integers(1, 100))
def test_shown_is_short_and_prints(text: str, most: int) -> None:
    answer = shown(text, most)
    assert len(answer) <= most
    assert answer.isprintable()
    assert shown(answer, most) == answer
    answer.encode()


def test_quoted_keeps_its_marks_when_cut() -> None:
    assert quoted("x" * 5000) == '"' + "x" * 77 + '…"'
    assert quoted('1-1/2"') == "'1-1/2\"'"


def test_a_huge_text_costs_no_more_than_it_shows() -> None:
    fault = Fault("p", "x" * 10**6, "y" * 10**6, "z" * 10**6, "w" * 10**6)
    assert len(str(fault)) < 1500


def test_study_error_lists_every_fault() -> None:
    other = Fault("pump.csv", "row 3, column price", "-4", "an amount of at least 0")
    error = StudyError(fault for fault in (STROKE, other))
    assert error.faults == (STROKE, other)
    assert str(error).splitlines() == [str(STROKE), str(other)]


def test_study_error_without_a_fault_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        StudyError([])


def test_errors_cross_process_borders() -> None:
    study = pickle.loads(pickle.dumps(StudyError([STROKE])))
    assert isinstance(study, StudyError)
    assert study.faults == (STROKE,)
    call = pickle.loads(pickle.dumps(CallError("no such command")))
    assert isinstance(call, CallError)
    assert str(call) == "no such command"


@pytest.mark.parametrize(
    ("word", "best"),
    [
        ("Strok", "stroke"),
        ("BORE", "bore"),
        ("pump_flw", "pump_flow"),
        ("rod", "rod"),
        ("ROD", "Rod"),
        ("xylophone", ""),
        ("", ""),
        ("stroke" * 50, ""),
    ],
)
def test_nearest(word: str, best: str) -> None:
    assert nearest(word, ["bore", "stroke", "Rod", "rod", "pump_flow", "s" * 10_000]) == best


def test_nearest_of_nothing() -> None:
    assert nearest("bore", []) == ""


def test_nearest_does_not_guess_at_very_long_words() -> None:
    assert nearest("a" * 100, ["a" * 99]) == "a" * 99
    assert nearest("a" * 101, ["a" * 100]) == ""
