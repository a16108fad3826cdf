"""Fit, ranges and chances through the real entry point."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest

from optimise.units import show
from tests.cli.test_commands import STUDIES, answer, ramfront

FITTED = ("leakage_factor", "speed_factor", "loss_factor", "seal_pressure", "reversal_factor")


def starter(folder: Path, *changes: tuple[str, str]) -> Path:
    """A starter study with words of its study.toml changed."""
    assert ramfront("new", "mine", cwd=folder).returncode == 0
    file = folder / "mine" / "study.toml"
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert re.search(old, text)
        text = re.sub(old, new, text)
    file.write_text(text, encoding="utf-8")
    return folder / "mine"


NO_MEASUREMENTS = (r"(?s)\[\[measurements\]\].*?(?=\n#)", "")


def reading(kind: str, value: str, uncertainty: str, repeats: int = 1) -> str:
    return (
        f'[[measurements]]\nkind = "{kind}"\nvalue = "{value}"\n'
        f'uncertainty = "{uncertainty}"\nrepeats = {repeats}\n'
    )


# --- fit -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("study", STUDIES)
def test_fit_holds_constants_readings_and_what_to_do(study: str) -> None:
    found = answer("fit", f"studies/{study}")
    assert tuple(one["name"] for one in found["fitted_constants"]) == FITTED
    for one in found["fitted_constants"]:
        assert one["low"] < one["fitted"] < one["high"]
    for name in FITTED:
        assert found["correlation"][name][name] == pytest.approx(1.0)
    pairs = {frozenset(pair["constants"]) for pair in found["cannot_tell_apart"]}
    for one in FITTED:
        for other in FITTED:
            strong = one != other and abs(found["correlation"][one][other]) > 0.8
            assert (frozenset((one, other)) in pairs) is strong
    assert found["agrees"] is True
    for one in found["measurements"]:
        off, before = (abs(one["measured"] - one[key]) for key in ("fitted", "study"))
        assert one["low"] < one["fitted"] < one["high"]
        assert abs(one["residual_in_deviations"]) < 2.0
        if one["kind"] in ("extend_time", "retract_time", "cycle_time"):
            assert off < before
    gains = [one["narrowing"] for one in found["next"]]
    assert gains == sorted(gains, reverse=True)
    assert 1 <= len(found["advice"]) <= 2
    predicted = found["prediction"]
    assert predicted["low"] < predicted["fitted"] < predicted["high"]
    assert predicted["study"] == answer("check", f"studies/{study}")["cycle"]["total_s"]


def test_fit_in_words_ends_with_what_a_builder_can_do() -> None:
    done = ramfront("fit", "studies/alder-yard")
    assert done.returncode == 0, done.stderr
    words = " ".join(done.stdout.split())
    foretold = answer("fit", "studies/alder-yard")["prediction"]["fitted"]
    assert "cannot tell loss factor and seal friction apart" in words
    assert "They said next to nothing of: leakage factor" in words
    assert f"Reckon with a cycle of {show(foretold, 'time', 'us')} (" in words
    assert words.endswith("%.")
    assert "More readings are not worth the time" in words


def test_one_reading_leaves_something_to_measure(tmp_path: Path) -> None:
    starter(tmp_path)
    found = answer_in(tmp_path, "fit", "mine")
    assert "Measure next: " in found["advice"][-1]
    assert found["next"][0]["narrowing"] >= 0.05
    kind = found["next"][0]["kind"].replace("_", " ")
    assert kind in found["advice"][-1]


def answer_in(folder: Path, *words: str) -> dict[str, Any]:
    done = ramfront(*words, "--json", cwd=folder)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_a_study_without_measurements_is_told_kindly(tmp_path: Path) -> None:
    starter(tmp_path, NO_MEASUREMENTS)
    done = ramfront("fit", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "holds no measurements yet" in done.stdout
    assert "wear doubles the slip" in " ".join(done.stdout.split())
    found = answer_in(tmp_path, "fit", "mine")
    assert found["measurements"] == []
    assert [one["fitted"] for one in found["fitted_constants"]] == [None] * len(FITTED)
    checked = answer_in(tmp_path, "check", "mine")
    assert checked["intervals_from"] == "priors"
    assert "no measurements" in checked["why_not_from_measurements"]
    for command in ("check", "front", "report"):
        refused = ramfront(command, "mine", "--fitted", cwd=tmp_path)
        assert refused.returncode == 2
        assert "no measurements" in refused.stderr


def test_readings_against_physics_are_refused_all_at_once(tmp_path: Path) -> None:
    bad = (
        reading("extend_time", "1 s", "0.05 s")
        + reading("retract_pressure", "9000 psi", "50 psi")
        + reading("oil_temperature", "20 degF", "1 K")
    )
    starter(tmp_path, (r"(?s)\[\[measurements\]\].*?(?=\n#)", bad.replace("\\", "")))
    for words in (("fit", "mine"), ("check", "mine", "--fitted")):
        done = ramfront(*words, cwd=tmp_path)
        assert done.returncode == 2
        assert done.stdout == ""
        for part in ("swept volume", "relief valve", "warmer than the air"):
            assert part in done.stderr
    plain = answer_in(tmp_path, "check", "mine")
    assert plain["intervals_from"] == "priors"
    assert "swept volume" in plain["why_not_from_measurements"]


def test_readings_that_the_model_cannot_explain_are_said_to_disagree(tmp_path: Path) -> None:
    starter(tmp_path, ('value = "5.2 s"', 'value = "15 s"'))
    found = answer_in(tmp_path, "fit", "mine")
    assert found["agrees"] is False
    assert "disagree by more than chance" in found["advice"][0]


# --- ranges of check -----------------------------------------------------------------------------


@pytest.mark.parametrize("study", STUDIES)
def test_check_puts_ranges_beside_its_plain_numbers(study: str) -> None:
    found = answer("check", f"studies/{study}")
    assert found["intervals_from"] == "measurements"
    assert found["constants"]["from"] == "study"
    for key, ends in found["intervals"].items():
        assert ends["low"] < ends["high"], key
    for key in ("cycle.total_s", "force_N", "oil.steady_degC", "work.pieces_per_h"):
        assert key in found["intervals"]
    assert not any(key.startswith("cost.") for key in found["intervals"])
    low, high = (found["intervals"]["cycle.total_s"][end] for end in ("low", "high"))
    measured = next(
        one["measured"]
        for one in answer("fit", f"studies/{study}")["measurements"]
        if one["kind"] == "cycle_time"
    )
    assert low < measured < high
    for limit in found["limits"]:
        assert 0.0 <= limit["probability"] <= 1.0
        if limit["margin"] > 0.6:
            assert limit["probability"] > 0.9, limit["name"]
    hard = [limit["probability"] for limit in found["limits"] if limit["kind"] == "hard"]
    assert found["probability_all_hard_limits"] <= min(hard)
    shares = [driver["share"] for driver in found["drivers"]]
    assert shares == sorted(shares, reverse=True)
    assert 0.7 < sum(shares) < 1.3
    assert answer("check", f"studies/{study}") == found


def test_check_says_what_drives_the_range_and_what_it_rests_on() -> None:
    words = " ".join(ramfront("check", "studies/alder-yard").stdout.split())
    # Ten readings of 7.92 s, each good to 0.08 s: 0.08 / sqrt(10) = 0.0253.
    assert "The range of the cycle time comes mostly from how well the measurements pin" in words
    assert "Ranges hold in 9 cases of 10, by the study's measurements" in words
    assert "7.92 s ± 0.025 s (mean of 10)" in words


def test_fit_explains_its_words(tmp_path: Path) -> None:
    told = " ".join(ramfront("fit", "studies/kvarnby").stdout.split())
    first = " ".join(ramfront("fit", str(starter(tmp_path, NO_MEASUREMENTS))).stdout.split())
    for text in (told, first):
        assert "Factors multiply what the model reckons by itself, so 1 leaves it as it is" in text
    assert "Correlation: near 0 the readings tell two constants apart" in told
    assert "Off: reading less fitted model" in told


def test_fitted_moves_the_point_values_and_says_so() -> None:
    plain, fitted = (answer("check", "studies/alder-yard", *more) for more in ((), ("--fitted",)))
    best = {
        one["name"]: one["fitted"]
        for one in answer("fit", "studies/alder-yard")["fitted_constants"]
    }
    assert fitted["constants"] == {"from": "measurements", **best}
    assert abs(fitted["cycle"]["total_s"] - 14.7) < abs(plain["cycle"]["total_s"] - 14.7)
    assert fitted["intervals"] == plain["intervals"]
    low, high = (fitted["intervals"]["cycle.total_s"][end] for end in ("low", "high"))
    assert low < fitted["cycle"]["total_s"] < high
    assert (
        "constants that fit the measurements best"
        in ramfront("check", "studies/alder-yard", "--fitted").stdout
    )


def test_readings_stay_those_of_the_machine_owned() -> None:
    """Other parts and another place change the question, not what was measured."""
    plain = answer("check", "studies/alder-yard", "--fitted")
    asked = answer(
        "check",
        "studies/alder-yard",
        "--fitted",
        "--set",
        "surroundings.air_temperature=20 degF",
        "--set",
        "rod=2.5 in rod, 75 ksi",
    )
    assert asked["constants"] == plain["constants"]
    assert asked["cycle"]["retract_s"] < plain["cycle"]["retract_s"]
    other = answer("check", "studies/alder-yard", "--fitted", "--set", "measurements.3.value=15 s")
    assert other["constants"] != plain["constants"]


def test_a_constant_out_of_range_leaves_check_without_ranges() -> None:
    found = answer("check", "studies/alder-yard", "--set", "constants.speed_factor=1.06")
    assert found["intervals"] == {}
    assert found["cycle"]["total_s"] > 0.0


# --- the front -----------------------------------------------------------------------------------


def test_front_tells_how_sure_its_machines_are(tmp_path: Path) -> None:
    plain = answer("front", "studies/kvarnby", "--fitted", "--out", str(tmp_path))
    assert plain["proven"] is True
    assert plain["sure"] is None
    assert plain["constants"]["from"] == "measurements"
    for design in plain["designs"]:
        ends = design["intervals"]["cycle.total_s"]
        assert ends["low"] < ends["high"]
        chances = design["probability"]
        assert 0.0 <= chances["all_hard_limits"] <= chances["least"] <= 1.0
    with (tmp_path / "front.csv").open(encoding="utf-8", newline="") as table:
        head, *rows = list(csv.reader(table))
    column = head.index("Chance to keep all hard limits")
    expected = [design["probability"]["all_hard_limits"] for design in plain["designs"]]
    assert [float(row[column]) for row in rows] == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("chance", ["1.5", "-0.1", "often"])
def test_a_chance_is_from_0_to_1(chance: str) -> None:
    done = ramfront("front", "studies/kvarnby", "--sure", chance)
    assert done.returncode == 2
    assert "--sure" in done.stderr


def test_report_with_fitted_constants_says_so(tmp_path: Path) -> None:
    starter(tmp_path)
    done = ramfront("report", "mine", "--fitted", "--out", str(tmp_path), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<dd>those that fit the measure" in page
