"""All check rows, by the module or the choice that they check."""

from __future__ import annotations

from tests.references import (
    cylinder_rows,
    engine_rows,
    further_rows,
    heat_rows,
    lines_rows,
    model_rows,
    oil_rows,
    pump_rows,
    strength_rows,
    units_rows,
    valves_rows,
    work_rows,
)
from tests.references.check import Check, Label

ROWS_OF_MODULE: dict[str, tuple[Check, ...]] = {
    "oil": oil_rows.ROWS + further_rows.OIL,
    "lines": lines_rows.ROWS + further_rows.LINES,
    "valves": valves_rows.ROWS,
    "pump": pump_rows.ROWS + further_rows.PUMP,
    "engine": engine_rows.ROWS + further_rows.ENGINE,
    "cylinder": cylinder_rows.ROWS + further_rows.CYLINDER,
    "strength": strength_rows.ROWS + further_rows.STRENGTH,
    "heat": heat_rows.ROWS,
    "work": work_rows.ROWS,
    "units": units_rows.ROWS,
    "bounds and defaults": model_rows.TAKEN_OVER,
    "where to stop": model_rows.STOPS,
}
CHECKS: tuple[Check, ...] = tuple(row for rows in ROWS_OF_MODULE.values() for row in rows)

__all__ = ["CHECKS", "ROWS_OF_MODULE", "Check", "Label"]
