"""``ramfront front`` with ranges through the real entry point."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.test_commands import answer, ramfront

ALDER = "studies/alder-yard"
RANGE = "lines.return_line.length=2..6 ft"


def test_a_front_with_a_range_answers_programs_and_keeps_a_table(tmp_path: Path) -> None:
    settled = [
        *(
            "--set",
            "engine=15 hp petrol, horizontal shaft",
            "--set",
            "cooler=small cooler, 12 V fan",
        ),
        *("--set", "pump=16 gpm two-stage, 650 psi", "--set", "tank=20 gal tank"),
    ]
    call = (ALDER, RANGE, *settled, "--designs", "50", "--out", str(tmp_path), "--units", "us")
    found = answer("front", *call)
    assert found["proven"] is False
    assert "sampled" in found["why_not_proven"]
    assert found["designs_in_space"] is None
    (free,) = found["ranges"]
    assert (free["key"], free["unit"]) == ("lines.return_line.length", "m")
    lengths = [design["made_to_order"]["lines.return_line.length"] for design in found["designs"]]
    assert all(0.6096 - 1e-9 <= length <= 1.8288 + 1e-9 for length in lengths)
    assert all(design["limits_min_margin"] >= 0.0 for design in found["designs"])
    assert all(design["parts"]["tank"] == "20 gal tank" for design in found["designs"])
    with (tmp_path / "front.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(found["designs"])
    for row, length, design in zip(rows, lengths, found["designs"], strict=True):
        assert float(row["lines.return_line.length [in]"]) * 0.0254 == pytest.approx(
            length, rel=1e-5
        )
        assert float(row["Cycle [s]"]) == pytest.approx(
            design["objectives"]["cycle.total_s"], rel=1e-5
        )
    quick = found["designs"][0]
    same = answer(
        "check",
        ALDER,
        *(word for pair in quick["parts"].items() for word in ("--set", "=".join(pair))),
        *("--set", f"lines.return_line.length={lengths[0]!r} m"),
    )
    assert same["cycle"]["total_s"] == pytest.approx(quick["objectives"]["cycle.total_s"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([RANGE, "--sure", "0.9", "--apart", "0.1 s, 1 %"], "--sure, --apart: not with ranges"),
        (["--designs", "10", "--sampler", "gp"], "--sampler, --designs: not without ranges"),
        (["--store", "sqlite:///x.db"], "--store: without ranges wanted a file"),
        (["--store", "x.db", "--within", "20 s"], "--store: not with --within"),
        (["--store", "nosuch/x.db"], "the folder nosuch does not exist; make it or name another"),
        ([RANGE, "--store", "nosuch/x.db"], "x.db: the folder nosuch does not exist; make it or"),
        ([RANGE, "--store", "README.md/x.db"], "README.md is no folder; make it or name another"),
        (["frame.stroke=20..30 in"], "a number that no search may choose"),
        ([RANGE, "--set", "rod.diameter=2 in"], "write the number as a range"),
    ],
)
def test_what_does_not_go_together_is_refused(words: list[str], said: str, tmp_path: Path) -> None:
    done = ramfront("front", ALDER, *words, "--out", str(tmp_path / "new"))
    assert done.returncode == 2
    assert said in " ".join(done.stderr.split())
    assert not (tmp_path / "new").exists()
