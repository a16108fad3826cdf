"""Price lists: one CSV per part category, checked row by row."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from optimise.columns import Column
from optimise.errors import Fault, StudyError, nearest, quoted
from optimise.files import read_text
from optimise.machine.parts import CATEGORIES
from optimise.machine.quantities import quantities
from optimise.study.checks import order_faults
from optimise.study.entries import commands_terminal
from optimise.study.fault_words import meant
from optimise.study.model import PriceList
from optimise.study.schema import MOST_PARTS, table_model
from optimise.study.table_faults import MOST_JUDGED, check, good_values
from optimise.units import System, expected

NAME = "name"
OUTLAY = "outlay"
LARGEST_LIST = 2_000_000
"""Largest price list in bytes."""
MOST_COLUMNS = 200
"""Most columns of a price list."""
_SECONDS_PER_HOUR = 3600.0


@dataclass
class RawList:
    """A price list as far as it could be read.

    Attributes
    ----------
    category, path
        Which list, and its file as named in faults.
    names
        Name of each row, in order, also of rows with faults.
    rows
        SI values of each row by field; fields with a fault are absent.
    faults
        All that is wrong.
    readable
        Whether every row could be read, so that a name not among them is unknown.
    """

    category: str
    path: str
    names: list[str] = field(default_factory=list)
    rows: list[dict[str, float]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    readable: bool = False

    def note(self, place: str, what: str, wanted: str, hint: str = "") -> None:
        """Add a fault."""
        self.faults.append(Fault(self.path, place, what, wanted, hint))

    def row_named(self, name: object) -> dict[str, float]:
        """Values of a part; nothing for an unknown name."""
        if isinstance(name, str) and name in self.names:
            return self.rows[self.names.index(name)]
        return {}


def read_list(folder: Path, category: str, system: System) -> RawList:
    """Read ``category``.csv of a folder; every fault is collected, none is raised."""
    file = folder / f"{category}.csv"
    found = RawList(category, str(file))
    try:
        text = read_text(file, LARGEST_LIST)
    except StudyError as error:
        found.faults.extend(_with_neighbour(fault, folder, category) for fault in error.faults)
        return found
    table = _table(text, found)
    if table:
        _read_rows(table, found, system)
    return found


def _with_neighbour(fault: Fault, folder: Path, category: str) -> Fault:
    """Point at a file whose name may be the misspelt name of a missing list."""
    if fault.found != "no such file" or not folder.is_dir():
        return fault
    others = [file.stem for file in folder.glob("*.csv") if file.stem not in CATEGORIES]
    close = nearest(category, others)
    wanted = f"a price list, one row for each {category.replace('_', ' ')} that could be fitted"
    hint = f"{quoted(close + '.csv')} stands beside it, is that the list?" if close else ""
    return Fault(fault.path, fault.place, fault.found, wanted, hint)


def _table(text: str, found: RawList) -> list[tuple[int, list[str]]]:
    """Rows that are not blank, each with the number that a spreadsheet shows beside it."""
    table: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            tidy = [cell.strip() for cell in cells]
            if any(tidy):
                table.append((number, tidy))
            if len(table) > MOST_PARTS + 1:
                found.note(
                    f"row {number}", f"more than {MOST_PARTS} parts", f"at most {MOST_PARTS}"
                )
                return []
    except csv.Error as error:
        wanted = "comma-separated values, a cell with a comma or a quotation mark quoted whole"
        found.note(f"row {number + 1}", str(error), wanted)
        return []
    if not table:
        found.note("", "no rows", "a header row and a row per part")
    return table


def _read_rows(table: list[tuple[int, list[str]]], found: RawList, system: System) -> None:
    (first, header), body = table[0], table[1:]
    while not header[-1]:
        header.pop()
    columns = _columns(f"row {first}", header, found)
    if columns is None:
        return
    if not body:
        found.note(f"row {first + 1}", "no row under the header", "a row per part")
    model = table_model(CATEGORIES[found.category])
    seen: dict[str, int] = {}
    for number, cells in body:
        row = dict(zip(columns, cells, strict=False))
        name = row.pop(NAME, "")
        _check_name(name, number, seen, found)
        present = {column: cell for column, cell in row.items() if column and cell}
        whole = len(cells) >= len(header) and not any(cells[len(header) :])
        values = good_values(model, present if whole else {}, system)
        if whole:
            _check_row(present, values, f"row {number}", columns, found, system)
        else:
            what = f"{len(cells)} cells"
            found.note(f"row {number}", what, f"{len(header)} cells, as in the header")
        found.names.append(name)
        found.rows.append(values)
        if len(found.faults) > MOST_JUDGED:
            return
    found.readable = True


def _columns(place: str, header: Sequence[str], found: RawList) -> list[str] | None:
    """Field of each column, "" for one that is no field; None when the header is no header."""
    owner = CATEGORIES[found.category]
    known = (NAME, *quantities(owner))
    if NAME not in header:
        hint = meant(NAME, header) if nearest(NAME, header) else ""
        if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
            hint = "separate the columns by commas"
        found.note(place, quoted(",".join(header)), 'a header with "name"', hint)
        return None
    if len(header) > MOST_COLUMNS:
        found.note(place, f"{len(header)} columns", f"at most {MOST_COLUMNS}")
        return None
    columns: list[str] = []
    misspelt: set[str] = set()
    for index, title in enumerate(header, start=1):
        column_place = f"{place}, column {title or index}"
        if title in known and title not in columns:
            columns.append(title)
            continue
        columns.append("")
        if title in known:
            found.note(column_place, f"{quoted(title)} again", "each column once")
        elif title == OUTLAY:
            wanted = "no such column: the outlay follows from price, fitting_time and resale"
            found.note(column_place, quoted(title), wanted)
        else:
            wanted = f"a column of {found.category}.csv"
            found.note(column_place, quoted(title), wanted, meant(title, known))
            misspelt.add(nearest(title, known))
    for name, model_field in table_model(owner).model_fields.items():
        if model_field.is_required() and name not in columns and name not in misspelt:
            wanted = expected(quantities(owner)[name].kind)
            found.note(f"{place}, column {name}", f"no column {quoted(name)}", wanted)
    return columns


def _check_name(name: str, number: int, seen: dict[str, int], found: RawList) -> None:
    place = f"row {number}, column {NAME}"
    if not name:
        found.note(place, "an empty cell", "the name of the part")
    elif commands_terminal(name):
        found.note(place, quoted(name), "a name without control characters")
    elif name in seen:
        wanted = f"each name once; it stands in row {seen[name]} already"
        found.note(place, f"{quoted(name)} again", wanted)
    else:
        seen[name] = number


def _check_row(
    present: dict[str, str],
    values: dict[str, float],
    place: str,
    columns: Sequence[str],
    found: RawList,
    system: System,
) -> None:
    """Note the faults of one row; a column that the header lacks was noted there."""
    owner = CATEGORIES[found.category]
    model = table_model(owner)
    for finding in check(model, present, system):
        column = str(finding.loc[0])
        what, wanted = finding.found, finding.expected
        if column not in present:
            what, wanted = "an empty cell", expected(quantities(owner)[column].kind)
        if column in columns:
            found.note(f"{place}, column {column}", what, wanted, finding.hint)
    for finding in order_faults(owner, values, system):
        column_place = f"{place}, column {finding.loc[0]}"
        found.note(column_place, finding.found, finding.expected)


def outlay(
    price: Column, fitting_time: Column, labour_rate: float, resale_of_owned: float
) -> Column:
    """Money that fitting a part takes: its price and its hours, less what the old one brings.

    Parameters
    ----------
    price, resale_of_owned
        Currency.
    fitting_time
        s.
    labour_rate
        Currency per hour.

    Examples
    --------
    >>> outlay(200.0, 5400.0, 40.0, 60.0)
    200.0
    """
    return price + fitting_time / _SECONDS_PER_HOUR * labour_rate - resale_of_owned


def price_list(raw: RawList, owned: str, labour_rate: float) -> PriceList:
    """Columns of a list without faults; ``owned`` is the part whose outlay is nothing."""
    owner = CATEGORIES[raw.category]
    columns: dict[str, Any] = {
        name: np.array([row[name] for row in raw.rows], dtype=np.float64)
        for name in quantities(owner)
    }
    at = raw.names.index(owned)
    back = float(columns["resale"][at])
    cost = np.array(outlay(columns["price"], columns["fitting_time"], labour_rate, back))
    cost[at] = 0.0
    return PriceList(
        category=raw.category, names=tuple(raw.names), parts=owner(**columns, outlay=cost)
    )
