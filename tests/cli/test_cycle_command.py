"""``ramfront cycle`` through the real entry point."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.cli.test_commands import STUDIES, answer, ramfront

ALDER = "studies/alder-yard"
BIG_ROD = ("--set", "rod=3.5 in rod, 75 ksi")
LOSSES = ("pump", "relief", "lines", "friction", "damping", "impact")


@pytest.mark.parametrize("study", STUDIES)
def test_cycle_holds_times_courses_and_energy(study: str) -> None:
    found = answer("cycle", f"studies/{study}")
    assert {"study", "fingerprint", "constants", "parts", "idle", "loaded"} <= set(found)
    for ran in (found["idle"], found["loaded"]):
        course = ran["course"]
        assert {len(column) for column in course.values()} == {len(course["time_s"])}
        assert np.all(np.diff(course["time_s"]) >= 0.0)
        assert ran["outcome"] == "finished"
        parts = ran["extend_s"] + ran["retract_s"] + ran["reversal_s"]
        assert ran["total_s"] == pytest.approx(parts)
        assert ran["reversal_s"] == pytest.approx(
            ran["extend_reversal_s"] + ran["retract_reversal_s"]
        )
        assert max(course["pump_Pa"]) <= ran["highest_pump_Pa"] * (1.0 + 1e-9)
        energy = ran["energy"]
        spent = sum(energy[f"{name}_J"] for name in (*LOSSES, "wood", "stored"))
        assert spent == pytest.approx(energy["engine_J"], rel=0.01)
        assert all(0.0 <= one["time_s"] <= course["time_s"][-1] for one in ran["switches"])
    assert found["idle"]["energy"]["wood_J"] == 0.0
    assert found["loaded"]["energy"]["wood_J"] > 1000.0
    assert found["loaded"]["extend_s"] > found["idle"]["extend_s"]


@pytest.mark.parametrize("study", STUDIES)
def test_the_fast_model_beside_it_is_that_of_check(study: str) -> None:
    found, checked = answer("cycle", f"studies/{study}"), answer("check", f"studies/{study}")
    fast, cycle = found["idle"]["fast_model"], checked["cycle"]
    for key in ("extend_s", "retract_s", "reversal_s", "total_s"):
        assert fast[key] == pytest.approx(cycle[key])
    loaded = found["loaded"]["fast_model"]["total_s"]
    assert loaded == pytest.approx(cycle["loaded_total_s"])
    assert found["idle"]["total_s"] == pytest.approx(cycle["total_s"], rel=0.03)


def test_the_ram_goes_out_and_comes_back() -> None:
    found = answer("cycle", ALDER)["idle"]["course"]
    position = np.array(found["position_m"])
    stroke = 24 * 0.0254
    assert position[0] == pytest.approx(0.0, abs=1e-6)
    assert position.max() == pytest.approx(stroke, rel=1e-3)
    assert position[-1] == pytest.approx(0.0, abs=1e-3)


def test_a_pump_that_hunts_is_told_by_counts() -> None:
    done = ramfront("cycle", ALDER, *BIG_ROD)
    assert done.returncode == 0, done.stderr
    words = " ".join(done.stdout.split())
    for said in (
        "Without a log simulated fast model apart",
        "Through the mean piece of the wood mix",
        "The pump drops to its small section",
        "times from",
        "the detent lets go at",
        "Of 22.8 kJ from the engine",
        "Highest pressure at the pump:",
        "never feel for a leak",
    ):
        assert said in words, said
    assert "psi" in words
    switches = answer("cycle", ALDER, *BIG_ROD)["idle"]["switches"]
    assert sum(one["what"] == "large section unloaded" for one in switches) > 10


def test_units_and_a_machine_that_cannot_end_its_cycle() -> None:
    stuck = ("--set", "frame.idle_drag=60000 lbf", "--units", "metric")
    done = ramfront("cycle", ALDER, *stuck)
    assert done.returncode == 0, done.stderr
    assert "The cycle did not end: the ram is held." in done.stdout
    assert "no end" in done.stdout
    assert " bar" in done.stdout
    assert "psi" not in done.stdout.split("Without a log")[1].split("These figures")[0]
    assert answer("cycle", ALDER, *stuck)["idle"]["total_s"] is None


def test_cycle_of_a_new_study_and_faults_of_the_call(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    assert ramfront("cycle", "mine", cwd=tmp_path).returncode == 0
    assert "ramfront cycle studies" in ramfront("cycle", "--help").stdout
    done = ramfront("cycle", "no-such-folder")
    assert (done.returncode, done.stdout) == (2, "")
    assert "no-such-folder" in done.stderr
