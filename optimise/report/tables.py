"""Tables to keep: for spreadsheets and as Parquet, each row with what it was made from and by."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from optimise.columns import Array
from optimise.errors import CallError
from optimise.machine.results import RESULTS, Result
from optimise.machine.sheet import Sheet
from optimise.report.answers import provenance
from optimise.search.front import FrontAnswer
from optimise.search.sureness import Sureness
from optimise.study.model import Study
from optimise.study.space import Space
from optimise.units import System, convert, unit_of

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?|-?(?:inf|nan)")

SURENESS_HEADS = [
    "Cycle, 5 % point [s]",
    "Cycle, 95 % point [s]",
    "Chance to keep all hard limits",
    "Least chance of a hard limit",
    "Limit with it",
]


def _chances(sureness: Sureness, lane: int) -> list[str]:
    columns = (sureness.low, sureness.high, sureness.all_kept, sureness.least)
    return [*(f"{float(column[lane]):.4g}" for column in columns), str(sureness.least_limit[lane])]


def inert(cell: str) -> str:
    """Cell that a spreadsheet shows and does not run."""
    return "'" + cell if cell.startswith(FORMULA_STARTS) else cell


def active(cell: str) -> str:
    """Words of a cell before they were made inert."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA_STARTS) else cell


def _harmless(cell: str) -> str:
    """Cell of any table: a number as it is, words inert."""
    return cell if _NUMBER.fullmatch(cell) else inert(cell)


STAMP = ("Study", "Fingerprint", "Version", "Currency", "Folder", "Changes")
"""Heads of the last columns of every table."""
ROWS = "Rows"
"""Head of the very last column: how many rows the table has, in each of them."""
CHOSEN = "Chosen"
"""Head of the column that marks the rows to look at first, in tables that have it."""


def stamp_of(origin: Mapping[str, Any]) -> tuple[str, ...]:
    """Cells under :data:`STAMP` from what an answer says of itself."""
    changes = origin.get("changes", ())
    words = ("study", "fingerprint", "version", "currency", "folder")
    return (
        *(inert(str(origin.get(word, ""))) for word in words),
        json.dumps(list(changes), ensure_ascii=False) if changes else "",
    )


def head_of(result: Result, system: System) -> str:
    """Head of a result's column."""
    unit = unit_of(result.unit, system)
    return f"{result.title} [{unit}]" if unit else result.title


def result_columns(
    sheet: Sheet, system: System, results: Sequence[Result] = RESULTS
) -> list[Array]:
    """Results in the units of :func:`head_of`; all of them where none are named."""
    return [convert(sheet.results[result.key], result.unit, system) for result in results]


def result_cells(columns: Sequence[Array], lane: int | tuple[int, ...]) -> list[str]:
    """Cells of one machine out of :func:`result_columns`."""
    return [f"{float(column[lane]):.6g}" for column in columns]


class Kept:
    """A table that is kept, with the study, its fingerprint, the version and more in every row.

    Cells are text as a spreadsheet shows it; none of them is a formula.

    Parameters
    ----------
    stamp
        What goes under :data:`STAMP` in each row.
    """

    def __init__(self, stamp: tuple[str, ...]) -> None:
        self.stamp = stamp
        self.heads: list[str] = []
        self.rows: list[list[str]] = []

    @classmethod
    def of(cls, study: Study) -> Kept:
        """Empty table of a study."""
        return cls(stamp_of(provenance(study)))

    def writerow(self, cells: Iterable[Any], stamp: tuple[str, ...] | None = None) -> None:
        """Heads first, then each row, with a stamp of its own where it has one."""
        texts = [_harmless(str(cell)) for cell in cells]
        if self.heads:
            self.rows.append([*texts, *(stamp or self.stamp)])
        else:
            self.heads = [*texts, *STAMP]

    @property
    def whole(self) -> tuple[list[str], list[list[str]]]:
        """Heads and rows as they are written."""
        count = str(len(self.rows))
        return [*self.heads, ROWS], [[*row, count] for row in self.rows]

    @property
    def csv(self) -> str:
        """The table as CSV."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        heads, rows = self.whole
        writer.writerow(heads)
        writer.writerows(rows)
        return out.getvalue()

    @property
    def parquet(self) -> bytes:
        """The table as Parquet; a column is of numbers where every cell of it is one or empty.

        Raises
        ------
        CallError
            The library that writes it is not installed.
        """
        try:
            import pyarrow  # noqa: PLC0415
            import pyarrow.parquet  # noqa: PLC0415
        except ImportError:
            raise CallError(
                "--parquet needs the library pyarrow: pip install 'ramfront[parquet]'"
            ) from None
        heads, rows = self.whole
        columns = zip(*rows, strict=True) if rows else ([] for _ in heads)
        arrays = [pyarrow.array(_typed(list(column))) for column in columns]
        out = io.BytesIO()
        pyarrow.parquet.write_table(pyarrow.table(arrays, names=_distinct(heads)), out)
        return out.getvalue()


def _typed(cells: list[str]) -> list[str] | list[float | None]:
    try:
        numbers = [float(cell) if cell else None for cell in cells]
    except ValueError:
        return cells
    return numbers if any(number is not None for number in numbers) else cells


def _distinct(heads: Sequence[str]) -> list[str]:
    seen: dict[str, int] = {}
    found = []
    for head in heads:
        seen[head] = seen.get(head, 0) + 1
        found.append(head if seen[head] == 1 else f"{head} ({seen[head]})")
    return found


def front_table(
    study: Study, space: Space, answer: FrontAnswer, sureness: Sureness | None = None
) -> Kept:
    """Designs of a front, a row each: parts, results in the study's units, margin and its limit.

    With ``sureness`` also the cycle's range and the chances of the hard limits.
    """
    writer = Kept.of(study)
    heads = [head_of(result, study.system) for result in RESULTS]
    more = [] if sureness is None else SURENESS_HEADS
    writer.writerow([*space.categories, *heads, "Least margin", "Tightest limit", *more])
    if len(answer.indices):
        least, binding = answer.sheet.least_margin, answer.sheet.binding
        columns = result_columns(answer.sheet, study.system)
        for lane, row in enumerate(answer.indices):
            names = [inert(name) for name in space.names(row).values()]
            values = result_cells(columns, lane)
            tight = [f"{float(least[lane]):.4f}", str(binding[lane])]
            chances = [] if sureness is None else _chances(sureness, lane)
            writer.writerow([*names, *values, *tight, *chances])
    return writer
