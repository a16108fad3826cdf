"""Charts, tables and sections of the page as plain data, ready for JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypedDict

import numpy as np

DIGITS = 6
"""Significant digits of a figure in a chart."""

Figure = float | None
Piece = str | dict[str, str] | list[str | Figure]
"""Words; the same in each unit system; or a figure after its kind of unit."""
Said = list[Piece]


class Axis(TypedDict):
    """What an axis shows; ``clock`` writes seconds as the time of the day, ``whole`` counts."""

    title: str
    kind: str
    clock: bool
    whole: bool


class Series(TypedDict):
    """One line. ``style`` picks colour and dashes, ``step`` holds a value to the next place."""

    name: str
    style: int
    step: bool
    dots: bool
    x: list[Figure]
    y: list[Figure]


class Level(TypedDict):
    """A value that a panel marks across its width."""

    name: str
    value: Figure


class Mark(TypedDict):
    """A place across that all panels mark with a sign, and the words around its value."""

    sign: str
    before: str
    value: Figure
    after: str


class Panel(TypedDict):
    """One drawing of a chart; all panels of a chart share the axis across."""

    title: str
    kind: str
    series: list[Series]
    levels: list[Level]


class Band(TypedDict):
    """A stretch of the axis across that is set apart."""

    start: float
    end: float
    name: str


class Curve(TypedDict):
    """A chart of lines."""

    type: str
    key: str
    title: str
    sentence: Said
    across: Axis
    panels: list[Panel]
    bands: list[Band]
    marks: list[Mark]


class Bar(TypedDict):
    """A length with its words."""

    name: str
    value: Figure


class Bars(TypedDict):
    """A chart of lengths from a common start."""

    type: str
    key: str
    title: str
    sentence: Said
    kind: str
    bars: list[Bar]


class Strip(TypedDict):
    """One reading beside the model, on a scale of its own: low, middle, high."""

    name: str
    kind: str
    reading: list[Figure]
    study: Figure
    model: list[Figure]


class Strips(TypedDict):
    """Readings beside the model."""

    type: str
    key: str
    title: str
    sentence: Said
    strips: list[Strip]


class Spot(TypedDict):
    """One machine of :class:`Stairs`.

    ``limits`` has the letters of the limits that it crosses, ``kept`` is false where one of them is
    hard, ``roles`` are the words that stand at it; ``design`` is its number on the page, if any.
    """

    name: str
    x: Figure
    y: Figure
    kept: bool
    limits: list[str]
    roles: list[str]
    design: int | None


class Letter(TypedDict):
    """A limit and the letter that stands for it; small ones for those that are advisory."""

    letter: str
    name: str


class Stairs(TypedDict):
    """Machines by money and time, and the line over the quickest for the money (``steps``)."""

    type: str
    key: str
    title: str
    sentence: Said
    across: Axis
    up: Axis
    spots: list[Spot]
    steps: list[int]
    limits: list[Letter]


class Table(TypedDict):
    """Rows of cells; ``designs`` names the machine of a row (see ``Machine`` of the page).

    ``shown`` rows are in sight, the rest once the table is unfolded.
    """

    title: str
    head: list[list[str]]
    rows: list[list[Piece]]
    designs: list[int | None]
    shown: int


class Group(TypedDict):
    """What belongs together inside of a section: as a section, with a title of less weight."""

    title: str
    sentence: Said
    charts: list[Any]
    notes: list[Said]
    tables: list[Table]


class Section(TypedDict):
    """One section of the page. ``charts`` holds curves, bars, strips and stairs."""

    key: str
    title: str
    sentence: Said
    charts: list[Any]
    notes: list[Said]
    tables: list[Table]
    groups: list[Group]


def section_of(
    key: str,
    title: str,
    sentence: Said,
    charts: Sequence[Any] = (),
    notes: Sequence[Said] = (),
    tables: Sequence[Table] = (),
    groups: Sequence[Group] = (),
) -> Section:
    """A section of the page."""
    return {
        "key": key,
        "title": title,
        "sentence": sentence,
        "charts": list(charts),
        "notes": list(notes),
        "tables": list(tables),
        "groups": list(groups),
    }


def group_of(
    title: str,
    sentence: Sequence[Piece] = (),
    charts: Sequence[Any] = (),
    notes: Sequence[Said] = (),
    tables: Sequence[Table] = (),
) -> Group:
    """A group inside of a section."""
    return {
        "title": title,
        "sentence": list(sentence),
        "charts": list(charts),
        "notes": list(notes),
        "tables": list(tables),
    }


def table_of(
    title: str,
    head: Sequence[tuple[str, str]],
    rows: Sequence[Sequence[Piece]],
    designs: Sequence[int | None] | None = None,
    shown: int | None = None,
) -> Table:
    """A table; its heads are words and, for figures, their kind. All rows in sight by default.

    A column after the first in which no row says anything is left out.
    """
    kept = [nth for nth in range(len(head)) if nth == 0 or any(_says(row[nth]) for row in rows)]
    return {
        "title": title,
        "head": [list(head[nth]) for nth in kept],
        "rows": [[row[nth] for nth in kept] for row in rows],
        "designs": [None] * len(rows) if designs is None else list(designs),
        "shown": len(rows) if shown is None else min(shown, len(rows)),
    }


def _says(cell: Piece) -> bool:
    return any(cell.values()) if isinstance(cell, dict) else cell != ""


def number(value: Any) -> Figure:
    """Figure of a chart; None where it is not finite."""
    plain = float(value)
    return float(f"{plain:.{DIGITS}g}") if math.isfinite(plain) else None


def numbers(values: Any) -> list[Figure]:
    """Figures of a column."""
    return [number(value) for value in np.asarray(values, dtype=np.float64)]


def amount(kind: str, value: Any) -> list[str | Figure]:
    """A figure in a sentence or a table."""
    return [kind, number(value)]


def axis(title: str, kind: str, clock: bool = False, whole: bool = False) -> Axis:
    """An axis."""
    return {"title": title, "kind": kind, "clock": clock, "whole": whole}


def series(
    name: str, x: Any, y: Any, style: int = 0, *, step: bool = False, dots: bool = False
) -> Series:
    """A line of a chart."""
    return {
        "name": name, "style": style, "step": step, "dots": dots, "x": numbers(x), "y": numbers(y),
    }  # fmt: skip


def panel(title: str, kind: str, lines: Sequence[Series], levels: Sequence[Level] = ()) -> Panel:
    """A drawing of a chart."""
    return {"title": title, "kind": kind, "series": list(lines), "levels": list(levels)}


def curve(
    key: str,
    title: str,
    sentence: Said,
    across: Axis,
    panels: Sequence[Panel],
    bands: Sequence[Band] = (),
    marks: Sequence[Mark] = (),
) -> Curve:
    """A chart of lines."""
    return {
        "type": "curve",
        "key": key,
        "title": title,
        "sentence": sentence,
        "across": across,
        "panels": list(panels),
        "bands": list(bands),
        "marks": list(marks),
    }
