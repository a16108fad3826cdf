"""Writes every check value, its source and what the code gives into DEVELOPERS.md.

Run ``python -m tests.checks`` after a change of check rows or formulas; a test fails until then.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from tests.references.checks import CHECKS, ROWS_OF_MODULE, Check
from tests.references.left_out import LEFT_OUT

DEVELOPERS = Path(__file__).parents[1] / "DEVELOPERS.md"
LABELS = ("published", "standard", "computed", "memory")
BEGIN, END = "<!-- checks of python -m tests.checks -->", "<!-- end of checks -->"
_HEAD = (
    "| check | what | expected | got | difference | tolerance | unit | source | label | reason |"
)
_RULE = "| --- | --- | ---: | ---: | ---: | ---: | --- | --- | --- | --- |"
_NEGLIGIBLE = 1e-9
_NUMBERS = (3, 4)
"""Cells that may differ in the last digits from machine to machine: got, difference."""


def _text(words: str) -> str:
    return " ".join(words.split()).replace("|", "\\|")


def cells(check: Check) -> tuple[str, ...]:
    """One row; the difference is 0 where it is no more than rounding of the arithmetic."""
    got = float(check.compute())
    difference = got - check.expected
    if abs(difference) <= _NEGLIGIBLE * max(abs(got), abs(check.expected)):
        difference = 0.0
    return (
        check.id,
        _text(check.what),
        f"{check.expected:.10g}",
        f"{got:.7g}",
        f"{difference:+.2g}" if difference else "0",
        f"{check.tolerance:.3g}",
        check.unit,
        _text(check.source),
        check.label,
        _text(check.reason),
    )


def counts() -> str:
    """Table of how many rows of each label a module has."""
    lines = [f"| module | {' | '.join(LABELS)} | all |", "| --- |" + " ---: |" * (len(LABELS) + 1)]
    whole: Counter[str] = Counter()
    for module, rows in ROWS_OF_MODULE.items():
        found = Counter(row.label for row in rows)
        whole += found
        numbers = [str(found[label]) for label in LABELS]
        lines.append(f"| {module} | {' | '.join(numbers)} | {len(rows)} |")
    numbers = [str(whole[label]) for label in LABELS]
    lines.append(f"| all | {' | '.join(numbers)} | {sum(whole.values())} |")
    return "\n".join(lines)


def left_out() -> str:
    """Table of what no row holds."""
    lines = ["| number | what | kind | reason |", "| --- | --- | --- | --- |"]
    lines += [
        f"| {' | '.join(map(_text, (left.ids, left.what, left.kind, left.reason)))} |"
        for left in LEFT_OUT
    ]
    return "\n".join(lines)


def summary() -> str:
    """How much is checked and how much is not."""
    kinds = Counter(left.kind for left in LEFT_OUT)
    named = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common())
    return (
        f"{len(CHECKS)} values are checked. {len(LEFT_OUT)} entries of the collected sources are "
        f"left out of the rows ({named}) and stand with their reasons at the end."
    )


def tables() -> str:
    """All check values, how many there are of each kind, and what is left out."""
    parts = [
        "*published*: seen in print. *standard*: a standard's number or equation. *computed*: "
        "worked out by hand from published inputs or a definition, apart from this code. "
        "*memory*: recalled, shown and never a condition. The tolerance is absolute, in the unit.",
        summary(),
        counts(),
    ]
    for module, rows in ROWS_OF_MODULE.items():
        lines = [_HEAD, _RULE, *(f"| {' | '.join(cells(row))} |" for row in rows)]
        parts += [f"### {module}", "\n".join(lines)]
    parts += [
        "### Left out of the checks",
        "H and S number the collected sources: hydraulics; strength, engine, wood and safety. A "
        "test holds that each number has a row above or an entry here; some have both.",
        left_out(),
    ]
    return "\n\n".join(parts)


def kept(developers: str) -> str:
    """What stands in DEVELOPERS.md in their place."""
    return developers.partition(BEGIN)[2].partition(END)[0].strip()


def brought_up_to_date(developers: str) -> str:
    """DEVELOPERS.md with the tables of today."""
    before, _, rest = developers.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{tables()}\n\n{END}{after}"


def _split(line: str) -> list[str]:
    return [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]


def differences(old: str, new: str) -> list[str]:
    """Lines of two tables that differ by more than the last digits of what the code gives."""
    one, other = old.splitlines(), new.splitlines()
    if len(one) != len(other):
        return [f"{len(one)} lines, {len(other)} wanted"]
    return [here for here, there in zip(one, other, strict=True) if not _alike(here, there)]


def _alike(here: str, there: str) -> bool:
    if here == there:
        return True
    one, other = _split(here), _split(there)
    if len(one) != len(_split(_HEAD)) or len(other) != len(one):
        return False
    texts = [at for at in range(len(one)) if at not in _NUMBERS]
    if any(one[at] != other[at] for at in texts):
        return False
    try:
        (got, gap), (wanted, wanted_gap) = (
            [float(row[at]) for at in _NUMBERS] for row in (one, other)
        )
    except ValueError:
        return False
    scale = 1e-6 * max(abs(wanted), abs(float(one[2])))
    return abs(got - wanted) <= scale and abs(gap - wanted_gap) <= scale + 0.06 * abs(wanted_gap)


def main() -> None:
    """Write them."""
    DEVELOPERS.write_text(brought_up_to_date(DEVELOPERS.read_text("utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
