"""``ramfront explain``: the printed numbers in the printed formulas give the printed results."""

from __future__ import annotations

import doctest
import importlib
import math
import pkgutil
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest

import optimise.physics
from optimise.machine.explained import workings
from optimise.machine.strokes import RIPPLE
from tests.cli.test_commands import answer, ramfront

ALDER, KVARNBY = "studies/alder-yard", "studies/kvarnby"
BIG_ROD = ("--set", "rod=3.5 in rod, 75 ksi")
THIN_RETURN = ("--set", "return_hose.inner_diameter=0.25 in")
REGENERATIVE = ("--set", "valve.regen_pressure=600 psi", "--set", "rod=3.5 in rod, 75 ksi")
ONE_SECTION = ("--set", "pump.large_displacement=0 in3/rev")
WEAK = ("--set", "engine.rated_torque=8 lb ft", "--set", "engine.peak_torque=10 lb ft")
LUGGING = ("--set", "engine.rated_torque=8 lb ft", "--set", "engine.peak_torque=14 lb ft")
RELIEF = (
    "--set",
    "valve.detent_pressure=0 psi",
    "--set",
    "valve.relief_pressure=110 psi",
    "--set",
    "pump.small_displacement=0.8 in3/rev",
)
ROD_ONLY = ("--set", "frame.column=rod_only", "--set", "constants.loss_factor=1.3")
MACHINES = {
    "owned": (ALDER,),
    "metric": (KVARNBY,),
    "hunting": (ALDER, *BIG_ROD),
    "low": (ALDER, *BIG_ROD, *THIN_RETURN),
    "regenerative": (ALDER, *REGENERATIVE),
    "one section": (ALDER, *ONE_SECTION),
    "relief": (ALDER, *ONE_SECTION, *RELIEF),
    "lugging": (ALDER, *LUGGING),
    "stalled": (KVARNBY, *WEAK),
    "slender": (KVARNBY, *ROD_ONLY),
}
CALCULATOR = {
    "sqrt": math.sqrt,
    "log10": math.log10,
    "sin": math.sin,
    "abs": abs,
    "min": min,
    "max": max,
    "pi": math.pi,
}
NUMBER = r"-?\d[\d.]*(?:e[+-]?\d+)?"


def said(*words: str) -> str:
    done = ramfront(*words)
    assert done.returncode == 0, done.stderr
    return done.stdout


@dataclass(frozen=True)
class Printed:
    """One line as it is printed."""

    title: str
    source: str
    symbol: str
    formula: str
    result: Decimal
    inputs: dict[str, Decimal]


def printed_lines(text: str) -> list[Printed]:
    """Lines of the calculation, read back from the terminal."""
    rows = text.splitlines()
    found = []
    for at, row in enumerate(rows):
        head = re.fullmatch(r"( *\d+)  (.+)", row)
        if head is None or len(head.group(1)) != 4:
            continue
        title, _, source = head.group(2).partition(" | ")
        told = rows[at + 1].strip()
        equation, ended, rest = told.partition("; ")
        symbol, *parts = (rest if ended else told).split(" = ")
        formula = equation if ended else parts.pop(0)
        numbers = rows[at + 2] if len(rows) > at + 2 else ""
        taken = numbers if numbers.strip().startswith("with ") else ""
        inputs = dict(re.findall(rf"\b(\w+) = ({NUMBER})(?![\w.])", taken))
        found.append(
            Printed(
                title,
                source,
                symbol,
                formula,
                Decimal(parts[0].split(" ")[0]),
                {name: Decimal(number) for name, number in inputs.items()},
            )
        )
    return found


def worked_out(line: Printed, changed: dict[str, float] | None = None) -> float:
    """Formula with its numbers put in; of an equation, left side less right side."""
    values = {name: float(number) for name, number in line.inputs.items()}
    names = {**CALCULATOR, **values, **(changed or {})}
    sides = [eval(side.replace("^", "**"), {}, names) for side in line.formula.split("=")]
    return float(sides[0] - sides[1] if len(sides) > 1 else sides[0])


def rounding(number: Decimal) -> float:
    """By how much a number printed to six digits may be off."""
    if number == 0:
        return 0.0
    return 0.5 * 10.0 ** (number.adjusted() - 5)


def allowance(line: Printed) -> float:
    """By how much the formula may be off because its numbers are rounded."""
    equation = "=" in line.formula
    known = {**line.inputs, line.symbol: line.result} if equation else line.inputs
    held = {line.symbol: float(line.result)} if equation else {}
    middle = worked_out(line, held)
    moved = (
        abs(worked_out(line, {**held, name: float(number) + rounding(number)}) - middle)
        for name, number in known.items()
    )
    return math.fsum(moved) + (0.0 if equation else rounding(line.result))


def off(line: Printed) -> float:
    """Formula less result."""
    if "=" in line.formula:
        return worked_out(line, {line.symbol: float(line.result)})
    return worked_out(line) - float(line.result)


@pytest.fixture(scope="module")
def told() -> dict[str, str]:
    return {name: said("explain", *words) for name, words in MACHINES.items()}


@pytest.mark.parametrize("name", MACHINES)
def test_printed_formulas_give_the_printed_results(name: str, told: dict[str, str]) -> None:
    lines = printed_lines(told[name])
    assert len(lines) > 300
    loose = 0
    for line in lines:
        allowed = allowance(line)
        assert abs(off(line)) <= 1.1 * allowed + 1e-12 * abs(float(line.result)), line
        loose += allowed > 1e-4 * abs(float(line.result))
    assert loose < 0.1 * len(lines), "a check this loose would let a wrong formula through"


def test_a_wrong_formula_or_number_would_be_noticed(told: dict[str, str]) -> None:
    area = printed_lines(told["owned"])[0]
    assert area.symbol == "A_cap"
    wrong = Printed(*(*vars(area).values(),)[:3], "pi/2 * D^2", area.result, area.inputs)
    assert abs(off(wrong)) > 1000.0 * allowance(wrong)


def test_each_line_takes_numbers_from_lines_above_it(told: dict[str, str]) -> None:
    for text in told.values():
        number = 0
        results: dict[int, str] = {}
        for row in text.splitlines():
            if head := re.fullmatch(r"( *\d+)  .+", row):
                number += 1
                assert int(head.group(1)) == number
            if row.startswith("      with "):
                for value, line in re.findall(rf"= ({NUMBER})[^,\[(]* \[(\d+)\]", row):
                    assert results[int(line)] == value
            elif row.startswith("      ") and " = " in row:
                tail = row.rpartition("; ")[2].split(" = ")
                results[number] = tail[1 if "; " in row else 2].split(" ")[0]


LINES_OF_RESULTS = {
    "t_out": ("cycle", "extend_s"),
    "t_back": ("cycle", "retract_s"),
    "t_rev": ("cycle", "reversal_s"),
    "t_cycle": ("cycle", "total_s"),
    "t_loaded": ("cycle", "loaded_total_s"),
    "P_mean": ("engine", "mean_power_W"),
    "x_high": ("engine", "high_stage_load"),
    "p_back": ("pressure", "cap_back_Pa"),
    "n_b": ("strength", "buckling_factor"),
}


@pytest.mark.parametrize("name", ["hunting", "regenerative"])
def test_numbers_are_those_of_check(name: str) -> None:
    words = MACHINES[name]
    found, checked = answer("explain", *words), answer("check", *words)
    lines = [line for chapter in found["chapters"] for line in chapter["lines"]]
    last = {line["symbol"]: line["value"] for line in lines}
    for symbol, (group, key) in LINES_OF_RESULTS.items():
        assert last[symbol] == checked[group][key], symbol
    assert last["F"] == checked["force_N"]
    assert last["T_steady"] - 273.15 == pytest.approx(checked["oil"]["steady_degC"], abs=1e-9)
    margins = {
        re.search(r"\((\w+), ", line["title"]).group(1): line["value"]  # type: ignore[union-attr]
        for line in lines
        if line["symbol"] == "margin"
    }
    expected = {one["name"]: one["margin"] for one in checked["limits"]}
    del expected["solution_found"]
    assert margins == expected


def verdicts(*words: str) -> str:
    found: dict[str, Any] = answer("explain", *words)
    return " ".join(chapter["verdict"] for chapter in found["chapters"])


def test_the_stage_is_said_with_its_reason(told: dict[str, str]) -> None:
    assert "both sections stay at work" in told["owned"]
    assert "goes to and fro" in told["hunting"]
    assert f"{RIPPLE} * p_shift" in told["hunting"]
    assert "drops to its small section" in told["low"]
    assert "joins the cap end" in told["regenerative"]
    assert "does not shift" in told["one section"]
    assert "the relief valve takes what is left over" in told["relief"]
    assert "what the circuit takes at relief" in told["relief"]
    assert "pulled down on its full-load curve" in told["lugging"]
    assert "it stalls" in told["stalled"]


def test_a_part_of_it_keeps_its_numbers(told: dict[str, str]) -> None:
    part = printed_lines(said("explain", ALDER, "--only", "Strength"))
    whole = {(line.symbol, line.result) for line in printed_lines(told["owned"])}
    assert {(line.symbol, line.result) for line in part} <= whole
    assert {"n_b", "n_r", "n_w"} <= {line.symbol for line in part}
    assert len(part) < 20
    refused = ramfront("explain", ALDER, "--only", "gearbox")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "no chapter" in refused.stderr
    assert "Strength at relief pressure" in refused.stderr


def test_units_follow_the_call_and_si_stays() -> None:
    us, metric = (
        said("explain", ALDER, "--only", "Cylinder", "--units", units) for units in ("us", "metric")
    )
    assert "A_cap = pi/4 * D^2 = 0.0102608 m2 = 15.9 in²" in us
    assert "A_cap = pi/4 * D^2 = 0.0102608 m2 = 102.6 cm²" in metric


def test_a_ram_that_stands_has_its_other_lines() -> None:
    text = said("explain", ALDER, "--set", "frame.idle_drag=100000 lbf")
    symbols = {line.symbol for line in printed_lines(text)}
    assert {"A_cap", "T_high", "n_b", "margin"} <= symbols
    assert "t_out" not in symbols
    assert "the ram does not move" in text


def test_symbols_are_found_in_a_formula() -> None:
    assert doctest.testmod(workings).attempted == 1
    assert doctest.testmod(workings).failed == 0


def test_sources_stand_beside_the_formulas_too(told: dict[str, str]) -> None:
    docs = " ".join(
        str(importlib.import_module(f"optimise.physics.{module.name}").__doc__)
        + " ".join(
            str(getattr(one, "__doc__", ""))
            for one in vars(importlib.import_module(f"optimise.physics.{module.name}")).values()
        )
        for module in pkgutil.iter_modules(optimise.physics.__path__)
    )
    known = " ".join(docs.split())
    published = {
        line.source
        for text in told.values()
        for line in printed_lines(text)
        if line.symbol != "margin"
        and re.search(r"\d{4}|ISO|ASTM|Darcy|Hagen|Lame|Timo", line.source)
    }
    assert len(published) >= 9
    assert {source for source in published if source not in known} == set()
