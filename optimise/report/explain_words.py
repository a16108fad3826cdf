"""One machine's calculation line by line, for people with a calculator and for programs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rich.console import Console
from rich.text import Text

from optimise.errors import CallError, quoted
from optimise.machine.explained import write_out
from optimise.machine.explained.sources import DEFINITION
from optimise.machine.explained.workings import Chapter, Input, Line
from optimise.report.answers import plain, provenance
from optimise.report.text import CAUTIONS
from optimise.study.model import Study
from optimise.study.space import fitted_machine
from optimise.units import KINDS, System, show

DIGITS = 6
"""Significant digits of the numbers that go into the formulas."""
HOW_TO_READ = (
    "Each line: the result in words | its source; the formula with its result in SI, then in the "
    "study's units; the numbers that the formula takes, with the key of the study or the line "
    "[number] that they come from. Formulas take SI units as printed, radians and kelvin. What is "
    "found by search (flow and pressure of a stroke, the steady temperature) stands in a balance "
    "that gives it again."
)


@dataclass(frozen=True)
class Explained:
    """The machine asked about, written out; chapters may be a choice."""

    study: Study
    chapters: tuple[Chapter, ...]


def explained(study: Study, only: str = "") -> Explained:
    """Write out the machine asked about.

    Parameters
    ----------
    only
        Words of a chapter's title, "" for all of them.

    Raises
    ------
    CallError
        No chapter has such a title.
    """
    chapters = write_out(fitted_machine(study), study.setting)
    chosen = tuple(one for one in chapters if only.casefold() in one.title.casefold())
    if not chosen:
        titles = "; ".join(one.title for one in chapters)
        raise CallError(f"--only {quoted(only)}: no chapter has these words in its title: {titles}")
    return Explained(study, chosen)


def _si(value: float, unit: str) -> str:
    words = KINDS[unit].si_unit if unit in KINDS else unit
    return f"{value:.{DIGITS}g} {words}".rstrip()


def _shown(value: float, unit: str, system: System) -> str:
    """The number in the study's units; "" where that says no more than SI does."""
    if unit not in KINDS:
        return ""
    words = show(value, unit, system)
    return "" if words in (_si(value, unit), show(value, "count", system)) else words


# --- for people ---------------------------------------------------------------------------------


def input_words(given: Input, system: System) -> str:
    """One number that goes in: "D = 0.1016 m (4 in, bore.diameter)"."""
    words = f"{given.symbol} = {_si(given.value, given.unit)}"
    if isinstance(given.origin, int):
        return f"{words} [{given.origin}]"
    shown = _shown(given.value, given.unit, system)
    return f"{words} ({', '.join(filter(None, (shown, given.origin)))})"


def line_words(line: Line, system: System) -> tuple[str, str, str]:
    """Title with its source where one is needed, formula with result, and the numbers put in."""
    result = " = ".join(
        filter(None, (_si(line.value, line.unit), _shown(line.value, line.unit, system)))
    )
    told = (
        f"{line.formula}; {line.symbol} = {result}"
        if "=" in line.formula
        else f"{line.symbol} = {line.formula} = {result}"
    )
    numbers = ", ".join(input_words(one, system) for one in line.inputs)
    source = "" if line.source == DEFINITION else f" | {line.source}"
    return line.title + source, told, numbers


def print_explained(console: Console, found: Explained) -> None:
    """Every chapter; lines are not broken, so that they can be searched and cut."""
    study = found.study

    def say(words: str, style: str = "") -> None:
        console.print(Text(words, style=style), soft_wrap=True)

    say(study.title or study.name, "bold")
    say("; ".join(study.fitted.values()))
    say(HOW_TO_READ)
    for chapter in found.chapters:
        say("")
        say(chapter.title, "bold underline")
        if chapter.note:
            say(chapter.note)
        for line in chapter.lines:
            title, told, numbers = line_words(line, study.system)
            say(f"{line.number:4}  {title}")
            say(f"      {told}", "bold")
            if numbers:
                say(f"      with {numbers}")
        if chapter.verdict:
            say(f"      {chapter.verdict}", "italic")
    say("")
    say(CAUTIONS, "italic")


# --- for programs -------------------------------------------------------------------------------


def _number(value: float, unit: str) -> dict[str, Any]:
    return {"value": plain(value), "unit": KINDS[unit].si_unit if unit in KINDS else unit}


def _line_entry(line: Line) -> dict[str, Any]:
    return {
        "number": line.number,
        "title": line.title,
        "symbol": line.symbol,
        "formula": line.formula,
        **_number(line.value, line.unit),
        "inputs": [
            {
                "symbol": one.symbol,
                **_number(one.value, one.unit),
                "line": one.origin if isinstance(one.origin, int) else None,
                "from": "" if isinstance(one.origin, int) else one.origin,
            }
            for one in line.inputs
        ],
        "source": line.source,
    }


def explain_answer(found: Explained) -> dict[str, Any]:
    """Answer of ``explain``: chapters of lines, every number in SI as the formulas take it."""
    return {
        **provenance(found.study),
        "parts": dict(found.study.fitted),
        "chapters": [
            {
                "title": chapter.title,
                "note": chapter.note,
                "lines": [_line_entry(line) for line in chapter.lines],
                "verdict": chapter.verdict,
            }
            for chapter in found.chapters
        ],
    }
