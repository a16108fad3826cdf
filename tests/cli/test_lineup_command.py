"""``ramfront lineup`` through the real entry point."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.cli.test_commands import ROOT, STUDIES, answer, ramfront

ALDER = "studies/alder-yard"


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], tuple[dict[str, Any], Path]]:
    """Answer about a demonstration and the folder of its table, each made once."""

    @cache
    def found(study: str) -> tuple[dict[str, Any], Path]:
        folder = tmp_path_factory.mktemp(study)
        return answer("lineup", f"studies/{study}", "--out", str(folder)), folder

    return found


@pytest.fixture
def alder(asked: Callable[[str], tuple[dict[str, Any], Path]]) -> dict[str, Any]:
    return asked("alder-yard")[0]


@pytest.mark.parametrize("study", STUDIES)
def test_lineup_holds_what_its_question_asks(
    study: str, asked: Callable[[str], tuple[dict[str, Any], Path]]
) -> None:
    found, folder = asked(study)
    assert {"study", "fingerprint", "price_date", "currency", "version"} <= set(found)
    assert found["proven"] is True
    assert found["worth_gap"] == 0.0
    assert found["designs_in_space"] > 10**9
    groups = {group["name"]: group for group in found["buyers"]}
    assert len(groups) == 4
    for line in found["lines"]:
        assert len(line["designs"]) <= line["most_models"]
        served = [name for design in line["designs"] for name in design["serves"]]
        assert sorted(served + line["left_out"]) == sorted(groups)
        for design in line["designs"]:
            assert len(design["parts"]) == 13
            assert design["price"] * (1.0 - found["margin"]) == pytest.approx(design["cost"])
            assert design["limits_min_margin"] >= 0.0
            for name in design["serves"]:
                assert design["force_N"] >= groups[name]["least_force_N"]
                assert design["cycle_s"] <= groups[name]["longest_cycle_s"]
                assert design["price"] <= groups[name]["highest_price"]
    worth = [line["worth"] for line in found["lines"]]
    gains = [line["one_more_brings"] for line in found["lines"]]
    assert worth[1] - worth[0] == pytest.approx(gains[0])
    assert worth == sorted(worth)
    assert gains[found["models"] - 1] == 0.0
    assert 1 <= len(found["advice"]) <= 3
    with (folder / "lineup.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == sum(len(line["designs"]) for line in found["lines"])


def test_a_model_of_the_line_checks_as_the_line_says(alder: dict[str, Any]) -> None:
    for design in alder["line"]["designs"]:
        sets = [f"--set={part}={name}" for part, name in design["parts"].items()]
        checked = answer("check", ALDER, *sets)
        assert checked["feasible"] is True
        assert checked["cycle"]["total_s"] == design["cycle_s"]
        assert checked["force_N"] == design["force_N"]
        assert checked["cost"]["price"] == design["cost"]


def test_a_kit_checks_as_the_line_says(alder: dict[str, Any]) -> None:
    kits = alder["kits"]
    tried = [entry["kit"] for entry in kits["buyers"] if entry["kit"]] + [kits["best_value"]]
    assert len(tried) >= 3
    for kit in tried:
        sets = [f"--set={part}={name}" for part, name in kit["parts"].items()]
        checked = answer("check", ALDER, *sets)
        assert checked["feasible"] is True
        assert checked["cost"]["outlay"] == kit["outlay"]
        assert checked["cycle"]["total_s"] == kit["cycle_s"]
        assert checked["work"]["split_period_s"] == kit["piece_s"]
        assert kits["owned"]["piece_s"] - kit["piece_s"] == pytest.approx(kit["gained_s"])
        assert kit["price_per_s"] == pytest.approx(kit["price"] / kit["gained_s"])


def test_lineup_in_words() -> None:
    done = ramfront("lineup", ALDER, "--models", "2", "--units", "metric")
    assert done.returncode == 0, done.stderr
    words = " ".join(done.stdout.split())
    for said in (
        "Proven: no other line is worth more.",
        "Build two models: A for",
        "in common",
        "would bring",
        "Upgrade kits, fitted, for a machine such as the one owned",
        "kN",
        "never feel for a leak",
    ):
        assert said in words, said
    assert "lbf" not in words
    dear = ramfront("lineup", ALDER, "--set", "lineup.model_cost=1000000").stdout
    assert "Build no model for these buyers" in " ".join(dear.split())


def test_a_line_takes_a_part_put_on_as_settled() -> None:
    found = answer("lineup", ALDER, "--set", "pump=16 gpm two-stage, 650 psi")
    pumps = {design["parts"]["pump"] for line in found["lines"] for design in line["designs"]}
    assert pumps == {"16 gpm two-stage, 650 psi"}


def test_faults_of_study_and_call(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    done = ramfront("lineup", "mine", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "no [[buyers]]" in done.stderr
    assert "ramfront lineup studies" in ramfront("lineup", "--help").stdout
    study = tmp_path / "study"
    shutil.copytree(ROOT / ALDER, study)
    text = (study / "study.toml").read_text(encoding="utf-8")
    broken = text.replace('wood = "red oak"', 'wood = "red aok"')
    broken = broken.replace('name = "tree services"', 'name = "weekend owners"')
    broken = broken.replace('reset to 2750 psi, detent",\n]', 'reset to 2760 psi, detent",\n]')
    broken = broken.replace("highest_price = 4100", "highest_price = -1")
    (study / "study.toml").write_text(broken, encoding="utf-8")
    done = ramfront("lineup", str(study))
    assert done.returncode == 2
    for said in ('"red oak"', "again", "reset to 2750 psi", "highest_price"):
        assert said in done.stderr, said
    for words in (("lineup", ALDER, "--models", "0"), ("lineup", "no-such-folder")):
        assert ramfront(*words).returncode == 2


def test_starter_runs_with_the_marks_taken_off(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    file = tmp_path / "mine" / "study.toml"
    before, mark, after = file.read_text(encoding="utf-8").partition("# [[buyers]]")
    assert mark
    block, gap, rest = (mark + after).partition("\n\n")
    lines = [line.removeprefix("# ").removeprefix("#") for line in block.splitlines()]
    kept = [line for line in lines if not line.startswith("leave_out")]
    file.write_text(before + "\n".join(kept) + gap + rest, encoding="utf-8")
    done = ramfront("lineup", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Build" in done.stdout
