"""``python -m tests.bench [rates|starts|growth|rivals ...] [--json FILE] [--study NAME]``."""

from __future__ import annotations

import argparse
import dataclasses
import json
import platform
from collections.abc import Callable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table

from optimise import __version__
from tests.bench.common import Row
from tests.bench.growth import growth
from tests.bench.rates import rates
from tests.bench.starts import starts

LIMITS = (10.0, 60.0, None)
"""Processor times [s] that each of the sampling searches gets; None for as many machines as the
exact search works out."""


def _rivals(name: str) -> Iterator[Row]:
    from tests.bench.rivals import rivals

    for limit in LIMITS:
        yield from rivals(name, limit)


BENCHES: dict[str, Callable[[str], Iterator[Row]]] = {
    "rates": rates,
    "starts": starts,
    "growth": growth,
    "rivals": _rivals,
}


def main() -> None:
    reader = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    reader.add_argument("what", nargs="*", choices=[[], *BENCHES], help="all when none is named")
    reader.add_argument("--study", default="alder-yard")
    reader.add_argument("--json", type=Path, help="write the rows to this file too")
    asked = reader.parse_args()
    console = Console(width=140)
    found: list[Row] = []
    for name in asked.what or BENCHES:
        table = Table("group", "what", "value", "unit", "ratio", "note", title=name, box=None)
        for row in BENCHES[name](asked.study):
            found.append(row)
            ratio = "" if row.ratio is None else f"{row.ratio:.4g}"
            value = f"{row.value:,.0f}" if row.value >= 1e4 else f"{row.value:.4g}"
            table.add_row(row.group, row.what, value, row.unit, ratio, row.note)
        console.print(table)
    if asked.json:
        made = {
            "version": __version__,
            "python": platform.python_version(),
            "machine": platform.machine(),
            "rows": [dataclasses.asdict(row) for row in found],
        }
        asked.json.write_text(json.dumps(made, indent=2) + "\n", encoding="utf-8")


main()
