"""The front as a table for spreadsheets; cells that look like formulas are made inert."""

from __future__ import annotations

import csv
import io

from optimise.machine.results import RESULTS
from optimise.search.front import FrontAnswer
from optimise.study.model import Study
from optimise.study.space import Space
from optimise.units import convert, unit_of

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def inert(cell: str) -> str:
    """Cell that a spreadsheet shows and does not run."""
    return "'" + cell if cell.startswith(FORMULA_STARTS) else cell


def front_csv(study: Study, space: Space, answer: FrontAnswer) -> str:
    """Designs of a front, a row each: parts, results in the study's units, margin and its limit."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    units = [unit_of(result.unit, study.system) for result in RESULTS]
    heads = [
        f"{result.title} [{unit}]" if unit else result.title
        for result, unit in zip(RESULTS, units, strict=True)
    ]
    writer.writerow([*space.categories, *heads, "Least margin", "Tightest limit"])
    if len(answer.indices):
        least, binding = answer.sheet.least_margin, answer.sheet.binding
        columns = [
            convert(answer.sheet.results[result.key], result.unit, study.system)
            for result in RESULTS
        ]
        for lane, row in enumerate(answer.indices):
            names = [inert(name) for name in space.names(row).values()]
            values = [f"{float(column[lane]):.6g}" for column in columns]
            writer.writerow([*names, *values, f"{float(least[lane]):.4f}", str(binding[lane])])
    return out.getvalue()
