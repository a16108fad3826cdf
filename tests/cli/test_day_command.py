"""``ramfront day`` through the real entry point."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.test_commands import STUDIES, answer, ramfront

HOT = ("--set", "surroundings.air_temperature=25 degC")
KVARNBY = "studies/kvarnby"


@pytest.mark.parametrize("study", STUDIES)
def test_day_holds_what_the_contract_names(study: str) -> None:
    found = answer("day", f"studies/{study}")
    day, hours, course = found["day"], found["hours"], found["course"]
    assert {"study", "fingerprint", "price_date", "currency", "version", "parts"} <= set(found)
    assert len(day["pauses"]) == 2
    assert day["pieces"] > 100.0
    assert day["fuel_kg"] > 0.0
    columns = ("works", "air_degC", "oil_degC", "viscosity_m2_s", "heat_in_W", "heat_out_W")
    assert {len(hours[name]) for name in columns} == {len(hours["time_s"])}
    assert (hours["time_s"][0], hours["time_s"][-1]) == (day["start_s"], day["end_s"])
    assert all(time % 3600.0 == 0.0 for time in hours["time_s"][1:-1])
    assert all(0.0 < b - a <= 3600.0 for a, b in pairwise(hours["time_s"]))
    assert hours["oil_degC"][0] == pytest.approx(hours["air_degC"][0])
    assert max(hours["oil_degC"]) <= day["peak_degC"] == max(course["oil_degC"])
    assert day["coolest_air_degC"] <= min(course["air_degC"])
    assert max(course["air_degC"]) <= day["hottest_air_degC"] + 1e-9
    for time, works, heat in zip(hours["time_s"], hours["works"], hours["heat_in_W"], strict=True):
        paused = any(pause["start_s"] <= time < pause["end_s"] for pause in day["pauses"])
        assert works is not paused
        assert (heat == 0.0) is paused
    assert {len(column) for column in course.values()} == {len(course["time_s"])}
    cold = found["cold"]
    assert cold["viscosity_m2_s"] > hours["viscosity_m2_s"][0]
    assert 0.0 < cold["neutral_load"] < cold["stroke_load"] < 0.95
    assert cold["inlet_Pa"] < 101_325.0
    assert cold["ready_after_s"] == 0.0
    assert cold["course"]["oil_degC"][0] == pytest.approx(cold["oil_degC"])
    assert cold["rated_after_s"] == pytest.approx(
        np.interp(cold["rated_degC"], cold["course"]["oil_degC"], cold["course"]["time_s"])
    )


@pytest.mark.parametrize("study", STUDIES)
def test_heat_in_goes_out_or_stays(study: str) -> None:
    day = answer("day", f"studies/{study}")["day"]
    assert day["heat_in_J"] > day["heat_out_J"] > 0.0
    assert day["heat_in_J"] == pytest.approx(day["heat_out_J"] + day["stored_J"], rel=2e-3)


def test_hotter_air_is_hotter_oil_that_reaches_its_limit() -> None:
    mild, hot = answer("day", KVARNBY), answer("day", KVARNBY, *HOT)
    assert hot["day"]["peak_degC"] > mild["day"]["peak_degC"] + 8.0
    assert (mild["day"]["thin_oil_after_s"], mild["cooling"]["missing_W_K"]) == (None, 0.0)
    assert hot["cooling"]["missing_W_K"] > 0.0
    course, reached = hot["course"], hot["day"]["thin_oil_after_s"]
    assert float(
        np.interp(hot["day"]["start_s"] + reached, course["time_s"], course["oil_degC"])
    ) == pytest.approx(hot["day"]["thin_oil_degC"], abs=1e-6)


def put_on(choice: dict[str, Any]) -> tuple[str, ...]:
    return "--set", f"tank={choice['tank']}", "--set", f"cooler={choice['cooler']}"


def test_listed_parts_hold_what_the_answer_says_they_hold() -> None:
    found = answer("day", KVARNBY, *HOT)
    choices = found["cooling"]["choices"]
    assert len(choices) == 24
    assert [one["outlay"] for one in choices] == sorted(one["outlay"] for one in choices)
    as_owned = next(one for one in choices if (one["tank"], one["cooler"]) == ("60 L tank", "none"))
    assert (as_owned["outlay"], as_owned["enough"]) == (0.0, False)
    assert as_owned["peak_degC"] == pytest.approx(found["day"]["peak_degC"], abs=1e-3)
    for one in (next(one for one in choices if one["enough"]), as_owned, choices[-1]):
        changed = answer("day", KVARNBY, *HOT, *put_on(one))
        limit = min(changed["day"]["limit_degC"], changed["day"]["thin_oil_degC"])
        assert changed["day"]["peak_degC"] == pytest.approx(one["peak_degC"], abs=1e-3)
        assert changed["cooling"]["present_W_K"] == pytest.approx(one["conductance_W_K"])
        assert (changed["day"]["peak_degC"] <= limit) is one["enough"]
        assert (changed["cooling"]["missing_W_K"] == 0.0) is one["enough"]
        checked = answer("check", KVARNBY, *HOT, *put_on(one))
        assert checked["feasible"] is one["feasible"]
        assert checked["oil"]["steady_degC"] == pytest.approx(one["steady_degC"])
        assert checked["cost"]["outlay"] == one["outlay"]


def test_warmer_start_is_an_easier_start() -> None:
    colder = answer("day", KVARNBY, "--set", "surroundings.cold_oil_temperature=-20 degC")
    cold = answer("day", KVARNBY)["cold"]
    assert colder["cold"]["neutral_load"] > 0.95 > cold["neutral_load"]
    assert colder["cold"]["rated_after_s"] > cold["rated_after_s"]
    checked = answer("check", KVARNBY, "--set", "surroundings.cold_oil_temperature=-20 degC")
    limits = {limit["name"]: limit for limit in checked["limits"]}
    assert not limits["cold_engine"]["ok"]
    assert limits["cold_engine"]["value"] == pytest.approx(colder["cold"]["neutral_load"])
    assert checked["cold"]["engine_load"] == pytest.approx(colder["cold"]["stroke_load"])
    longer = answer("day", KVARNBY, "--set", "surroundings.cold_oil_temperature=-30 degC")["cold"]
    assert longer["neutral_load"] > 1.0
    assert longer["starts"] is False
    assert longer["ready_after_s"] is None
    words = ramfront("day", KVARNBY, "--set", "surroundings.cold_oil_temperature=-30 degC").stdout
    assert "It does not start like this" in words


def test_day_in_words() -> None:
    done = ramfront("day", KVARNBY, *HOT, "--units", "us")
    assert done.returncode == 0, done.stderr
    words = " ".join(done.stdout.split())
    rows = [line for line in done.stdout.splitlines() if line[2:3] == ":"]
    assert [row[:5] for row in rows] == ["07:30", *(f"{hour:02d}:00" for hour in range(8, 17))]
    assert "°F" in rows[0]
    assert rows[5].endswith("pause")
    thin = answer("day", KVARNBY, *HOT)["day"]["thin_oil_degC"]
    for said in (
        "At work from 07:30 to 16:00, 1 h of pauses",
        f"Oil too thin for the pump, {1.8 * thin + 32.0:.0f} °F after ",
        "Oil at its limit of 180 °F never",
        "are enough",
        "60 L tank small cooler, 12 V fan",
        "cold start at 5 °F and 1200 rpm",
        "never feel for a leak",
    ):
        assert said in words, said
    mild = ramfront("day", KVARNBY).stdout
    assert "°C" in mild
    assert "°F" not in mild


def test_air_as_hot_as_the_oil_may_be_is_said() -> None:
    hopeless = (
        "--set",
        "limits.oil_temperature.bound=30 degC",
        "--set",
        "surroundings.air_temperature=30 degC",
    )
    done = ramfront("day", KVARNBY, *hopeless)
    assert done.returncode == 0, done.stderr
    assert "No listed tank and cooler are enough" in done.stdout
    assert "the air is as hot as the oil may be" in done.stdout
    found = answer("day", KVARNBY, *hopeless)
    assert found["cooling"]["needed_day_W_K"] is None
    assert not any(one["enough"] for one in found["cooling"]["choices"])


def test_day_of_a_new_study_and_faults_of_the_call(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    assert ramfront("day", "mine", cwd=tmp_path).returncode == 0
    assert "ramfront day studies" in ramfront("day", "--help").stdout
    for words, said in (
        (("day", "no-such-folder"), "no-such-folder"),
        (("day", KVARNBY, "--set", "day.end=7 h"), "day.start"),
    ):
        done = ramfront(*words)
        assert done.returncode == 2
        assert said in done.stderr
        assert done.stdout == ""
