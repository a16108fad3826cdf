"""One machine of a comparison, worked out now or read from a saved answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from optimise.machine.results import RESULTS
from optimise.machine.sheet import sheet_of
from optimise.report.answers import plain, provenance
from optimise.study.model import Study
from optimise.study.space import fitted_machine

SAME = 1e-9
"""Relative difference up to which two numbers are the same."""


@dataclass(frozen=True)
class Compared:
    """One machine of a comparison.

    Attributes
    ----------
    label
        Words for its column.
    origin
        Study, fingerprint, version, and as far as they are known folder, changes, currency, units
        and constants that it was worked out with, as answers carry them.
    parts
        Name by category, as far as they are known.
    results
        SI by key, as far as they are known; None where there is no such number.
    limits
        Margin and whether it is kept, by name; nothing where a table does not hold them.
    titles
        Words of each limit.
    source
        Name of the saved answer that it was read from; "" where it was worked out now.
    same
        Relative difference up to which its numbers are the same as others.
    rows
        Rows that the table has from which it was read, and rows with which it was written.
    """

    label: str
    origin: Mapping[str, Any]
    parts: Mapping[str, str]
    results: Mapping[str, float | None]
    limits: Mapping[str, tuple[float | None, bool]]
    titles: Mapping[str, str]
    source: str = ""
    same: float = SAME
    rows: tuple[int, int] = (1, 1)


def worked_out(study: Study, label: str) -> Compared:
    """The machine asked about, worked out now."""
    sheet = sheet_of(fitted_machine(study), study.setting)
    return Compared(
        label=label,
        origin=provenance(study),
        parts=dict(study.fitted),
        results={result.key: plain(sheet.results[result.key]) for result in RESULTS},
        limits={one.limit.name: (plain(one.margin), bool(one.kept)) for one in sheet.limits},
        titles={one.limit.name: one.limit.title for one in sheet.limits},
    )
