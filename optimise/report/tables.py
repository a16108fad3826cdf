"""The front as a table for spreadsheets; cells that look like formulas are made inert."""

from __future__ import annotations

import csv
import io

from optimise.machine.results import RESULTS
from optimise.search.front import FrontAnswer
from optimise.search.sureness import Sureness
from optimise.study.model import Study
from optimise.study.space import Space
from optimise.units import convert, unit_of

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


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


def front_csv(
    study: Study, space: Space, answer: FrontAnswer, sureness: Sureness | None = None
) -> str:
    """Designs of a front, a row each: parts, results in the study's units, margin and its limit.

    With ``sureness`` also the cycle's range and the chances of the hard limits.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    units = [unit_of(result.unit, study.system) for result in RESULTS]
    heads = [
        f"{result.title} [{unit}]" if unit else result.title
        for result, unit in zip(RESULTS, units, strict=True)
    ]
    more = [] if sureness is None else SURENESS_HEADS
    writer.writerow([*space.categories, *heads, "Least margin", "Tightest limit", *more])
    if len(answer.indices):
        least, binding = answer.sheet.least_margin, answer.sheet.binding
        columns = [
            convert(answer.sheet.results[result.key], result.unit, study.system)
            for result in RESULTS
        ]
        for lane, row in enumerate(answer.indices):
            names = [inert(name) for name in space.names(row).values()]
            values = [f"{float(column[lane]):.6g}" for column in columns]
            tight = [f"{float(least[lane]):.4f}", str(binding[lane])]
            chances = [] if sureness is None else _chances(sureness, lane)
            writer.writerow([*names, *values, *tight, *chances])
    return out.getvalue()
