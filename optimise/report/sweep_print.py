"""The sweep on a terminal: curve or field of points, crossings, stairs, and what to do."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimise.machine.results import result_named
from optimise.report.sweep_words import (
    advice,
    doubt_sentences,
    line_label,
    line_words,
    marks_at,
    marks_of,
    name_of,
    parts_label,
    paying_hours,
    point_label,
    roles_of,
    stop_label,
    timed,
    worst_mark,
)
from optimise.report.text import CAUTIONS, SHOWN_TIME, money, written
from optimise.search.crossings import Crossing
from optimise.search.goals import CYCLE, PIECE
from optimise.search.stops import OUTLAY, Stop
from optimise.search.sweep import Sweep
from optimise.units import show

_SHOWN = (
    ("out", "cycle.extend_s"),
    ("back", "cycle.retract_s"),
    ("cycle", CYCLE),
    ("force", "force_N"),
    ("pieces added/h", "work.pieces_per_h"),
)
_FIELDS = (
    ("time per piece", PIECE),
    ("out", "cycle.extend_s"),
    ("back", "cycle.retract_s"),
    ("force", "force_N"),
    ("pieces added per hour", "work.pieces_per_h"),
    ("outlay", OUTLAY),
)
"""Results of two dimensions, a field each."""
_NAMED_CROSSINGS = 12


def print_sweep(console: Console, found: Sweep) -> None:
    """The curve or the field of points, limits crossed on the way, and where to stop."""
    console.print(Text(found.study.title or found.study.name, style="bold"))
    if len(found.dimensions) == 1:
        _print_curve(console, found)
    else:
        _print_field(console, found)
    told: set[str] = set()
    for stop in found.stops:
        chosen = stop_label(found, stop)
        if len(stop.stairs) > 1 and chosen not in told:
            _print_stairs(console, found, stop)
        told.add(chosen)
    if len(found.stops) == 1:
        for sentence in doubt_sentences(found, found.stops[0]):
            console.print(Text(sentence))
    for sentence in advice(found):
        console.print(Text(sentence, style="bold"))
    console.print(Text(CAUTIONS, style="italic"))


def _print_legend(console: Console, found: Sweep, marks: dict[str, str]) -> None:
    for reading in found.sheet.limits:
        if reading.limit.name in marks:
            kind = "" if reading.limit.kind == "hard" else " (advisory)"
            console.print(
                Text(f"  {marks[reading.limit.name]}: {reading.limit.title}{kind} is crossed")
            )


def _print_curve(console: Console, found: Sweep) -> None:
    dimension = found.dimensions[0]
    table = Table(name_of(dimension), *(title for title, _ in _SHOWN), box=None, pad_edge=False)
    table.add_column("outlay")
    table.add_column("per piece" if dimension.of_setting else "off a piece")
    table.add_column("crossed")
    seconds = found.sheet.results[PIECE] if dimension.of_setting else found.saved
    marks = marks_of(found)
    crossings = sorted(found.crossings, key=lambda one: one.value)
    for nth in range(len(dimension)):
        shown = [written(found.sheet, key, found.study.system, (nth,)) for _, key in _SHOWN]
        table.add_row(
            Text(dimension.label(nth, found.study.system)),
            *shown,
            money(found.study, float(found.sheet.results[OUTLAY][nth])),
            timed(found, float(seconds[nth])),
            Text(marks_at(found, marks, (nth,))),
        )
        for one in crossings:
            if one.before[0] == nth:
                at = f"> {dimension.shown(one.value, found.study.system)}"
                side = "up" if one.kept_below else "down"
                words = f"{marks[one.limit.name]} {side}"
                table.add_row(Text(at), *[""] * (len(_SHOWN) + 2), Text(words, style="bold"))
    console.print(table)
    if found.crossings:
        console.print("> marks the value from which a limit is crossed, up or down the table.")
    _print_legend(console, found, marks)
    console.print()


def _print_field(console: Console, found: Sweep) -> None:
    rows, columns = found.dimensions
    numbers = [str(nth) for nth in range(1, len(columns) + 1)]
    for number, nth in zip(numbers, range(len(columns)), strict=True):
        console.print(Text(f"  {number}: {point_label(columns, nth, found)}"))
    console.print()
    marks = marks_of(found)
    for title, key in _FIELDS:
        shown = [
            [
                show(float(value), result_named(key).unit, found.study.system, 3)
                for value in found.sheet.results[key][row]
            ]
            for row in range(len(rows))
        ]
        if key == PIECE:
            shown = [
                [
                    f"{cell} {worst_mark(found, marks, (row, column))}".rstrip()
                    for column, cell in enumerate(cells)
                ]
                for row, cells in enumerate(shown)
            ]
        _print_cells(console, found, title, numbers, shown)
    _print_legend(console, found, marks)
    if marks:
        console.print("A letter is the limit crossed worst there, +1 that one more is crossed.")
    _print_crossings(console, found)
    console.print()


def _print_cells(
    console: Console, found: Sweep, title: str, numbers: Sequence[str], cells: list[list[str]]
) -> None:
    """One result over both dimensions; no line or column for a dimension that does not move it."""
    rows, columns = found.dimensions
    name = f"{title}, {name_of(rows)}"
    if all(len(set(line)) == 1 for line in cells):
        cells, numbers = [line[:1] for line in cells], [f"any {name_of(columns)}"]
    labels = [rows.label(nth, found.study.system) for nth in range(len(rows))]
    if all(line == cells[0] for line in cells):
        cells, labels = cells[:1], [f"any {name_of(rows)}"]
        name = title
    table = Table(name, *numbers, box=None, pad_edge=False)
    for label, line in zip(labels, cells, strict=True):
        table.add_row(Text(label), *map(Text, line))
    console.print(table)
    console.print()


def _print_crossings(console: Console, found: Sweep) -> None:
    """Where limits are crossed; one line for those that do not depend on the other dimension."""
    said: dict[tuple[str, int, bool], list[Crossing]] = {}
    for one in found.crossings:
        if one.limit.kind == "hard":
            said.setdefault((one.limit.title, one.dimension, one.kept_below), []).append(one)
    for (title, place, kept_below), some in list(said.items())[:_NAMED_CROSSINGS]:
        dimension = found.dimensions[place]
        values = [one.value for one in some]
        ends = [dimension.shown(value, found.study.system) for value in (min(values), max(values))]
        where = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}, by the other dimension"
        side = "above" if kept_below else "below"
        where += _only_at(found, place, some)
        console.print(Text(f"{title} is crossed {side} {name_of(dimension)} {where}."))


def _only_at(found: Sweep, place: int, some: Sequence[Crossing]) -> str:
    """At which points of the other dimension a limit is crossed, where not at all of them."""
    [*others] = (nth for nth in range(len(found.dimensions)) if nth != place)
    if not others:
        return ""
    other = found.dimensions[others[0]]
    at = sorted({one.before[others[0]] for one in some})
    if len(at) == found.shape[others[0]]:
        return ""
    labels = [other.label(nth, found.study.system) for nth in at]
    return f", with {name_of(other)} at {' and '.join(labels)} only"


def _print_stairs(console: Console, found: Sweep, stop: Stop) -> None:
    line = line_label(found, stop)
    title = "quicker for money" + (f", {line_words(found)} {line}" if line else "")
    table = Table(title, "outlay", "per piece", "a second costs", "", box=None, pad_edge=False)
    roles = roles_of(stop, stop.second_worth)
    for nth, place in enumerate(stop.stairs):
        table.add_row(
            Text(parts_label(found, place)),
            money(found.study, float(stop.outlays[nth])),
            timed(found, float(stop.periods[nth])),
            _price(found, stop, nth),
            Text(", ".join(roles.get(nth, ())), style="bold"),
        )
    console.print(table)
    if stop.second_worth > 0.0:
        console.print(
            f"A second off every piece is worth {money(found.study, stop.second_worth)} over "
            f"{paying_hours(found)}."
        )
    console.print()


def _price(found: Sweep, stop: Stop, nth: int) -> str:
    """What a second costs at a stair; words where there is next to none to buy."""
    if nth == 0:
        return ""
    if stop.periods[nth - 1] - stop.periods[nth] < SHOWN_TIME:
        return "next to no time gained"
    return money(found.study, float(stop.prices[nth]))
