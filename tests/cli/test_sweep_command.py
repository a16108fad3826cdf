"""``ramfront sweep`` through the real entry point."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from tests.cli.test_commands import STUDIES, answer, ramfront

ALDER = "studies/alder-yard"
RODS_COARSE = "rod.diameter=1.5..2.5 in by 0.5"
RODS = "rod.diameter=1.5..3.5 in by 0.25"


@pytest.mark.parametrize("study", STUDIES)
def test_sweep_over_a_price_list_holds_what_it_should(study: str) -> None:
    found = answer("sweep", f"studies/{study}", "rod")
    assert {"study", "fingerprint", "version", "currency", "parts", "rule", "knee_rule"} <= set(
        found
    )
    (dimension,) = found["dimensions"]
    assert [point["at"] for point in found["points"]] == [[name] for name in dimension["names"]]
    checked = answer("check", f"studies/{study}")
    owned = next(p for p in found["points"] if p["at"] == [checked["parts"]["rod"]])
    for key in ("extend_s", "retract_s", "total_s", "loaded_total_s"):
        assert owned["cycle"][key] == pytest.approx(checked["cycle"][key])
    assert owned["force_N"] == pytest.approx(checked["force_N"])
    assert owned["work"]["pieces_per_h"] == pytest.approx(checked["work"]["pieces_per_h"])
    assert (owned["useful_saved_s"], owned["cost"]["outlay"]) == (0.0, 0.0)
    (stop,) = found["stops"]
    assert stop["second_worth"] == pytest.approx(checked["work"]["second_worth"])
    outlays = [stair["outlay"] for stair in stop["stairs"]]
    periods = [stair["split_period_s"] for stair in stop["stairs"]]
    assert outlays == sorted(outlays)
    assert periods == sorted(periods, reverse=True)
    assert stop["worth_doubt"]["draws"] > 0
    assert len(found["advice"]) in (1, 2, 3)
    assert all(sentence.endswith(".") for sentence in found["advice"])


def test_crossings_stand_in_json_and_in_the_table() -> None:
    found = answer("sweep", ALDER, RODS)
    crossing = next(one for one in found["crossings"] if one["limit"] == "work_velocity")
    assert (crossing["unit"], crossing["kept"]) == ("m", "below")
    assert not crossing["interpolated"]
    inches = crossing["value"] / 0.0254
    assert 2.25 < inches < 2.5
    assert found["dimensions"][0]["unit"] == "m"
    kept = [p["at"][0] < crossing["value"] for p in found["points"]]
    assert kept == ["work_velocity" not in p["crossed"] for p in found["points"]]
    done = ramfront("sweep", ALDER, RODS)
    assert done.returncode == 0, done.stderr
    assert f"> {inches:.4g} in" in done.stdout
    assert "Velocity in the work hoses is crossed" in done.stdout
    assert "never feel for a leak" in done.stdout.replace("\n", " ")
    words = " ".join(done.stdout.split())
    for sentence in found["advice"]:
        assert sentence in words


def test_two_dimensions() -> None:
    found = answer(
        "sweep", "studies/kvarnby", "rod", "surroundings.air_temperature=0..40 degC by 20"
    )
    assert [len(d.get("names", d.get("values"))) for d in found["dimensions"]] == [8, 3]
    assert found["dimensions"][1]["values"] == pytest.approx([0.0, 20.0, 40.0])
    assert found["dimensions"][1]["unit"] == "degC"
    assert len(found["points"]) == 24
    assert [stop["elsewhere"] for stop in found["stops"]] == [
        {"surroundings.air_temperature": pytest.approx(degrees)} for degrees in (0.0, 20.0, 40.0)
    ]
    assert all(one["key"] == "surroundings.air_temperature" for one in found["crossings"])
    done = ramfront(
        "sweep", "studies/kvarnby", "rod", "surroundings.air_temperature=0..40 degC by 20"
    )
    assert done.returncode == 0, done.stderr
    assert "+1 that one more is crossed" in done.stdout
    assert "Steady oil temperature is crossed above air temperature" in done.stdout


def test_every_result_of_two_dimensions_stands_on_the_terminal() -> None:
    """A field each; a result that one dimension does not move has one line or one column."""
    texts = ("sweep", ALDER, "bore=4 in bore, 1/4 wall | 5 in bore, 3/8 wall", RODS_COARSE)
    found = answer(*texts)
    done = ramfront(*texts)
    assert done.returncode == 0, done.stderr
    fields = {block.split("  ")[0].split(",")[0]: block for block in done.stdout.split("\n\n")}
    points = found["points"]
    for title, shown in (
        ("out", [f"{point['cycle']['extend_s']:.3g} s" for point in points]),
        ("back", [f"{point['cycle']['retract_s']:.3g} s" for point in points]),
        ("force", [f"{point['force_N'] / 4.4482216152605 / 100:.0f}00 lbf" for point in points]),
        ("pieces added per hour", [f"{point['work']['pieces_per_h']:.3g}" for point in points]),
        ("outlay", [f"{point['cost']['outlay']:.3g}" for point in points]),
    ):
        for figure in shown:
            assert figure in fields[title], (title, figure, fields[title])
    assert fields["force"].splitlines()[0].endswith("any rod diameter")
    marks = re.findall(r" s ([A-Za-z])(?:\+(\d+))?", fields["time per piece"])
    crossed = [len(point["crossed"]) + len(point["crossed_advisory"]) for point in points]
    assert [1 + int(more or 0) for _, more in marks] == [count for count in crossed if count]
    hard = [bool(point["crossed"]) for point, count in zip(points, crossed, strict=True) if count]
    assert [letter.isupper() for letter, _ in marks] == hard


def test_sweep_writes_a_table(tmp_path: Path) -> None:
    done = ramfront("sweep", ALDER, "pump", RODS, "--out", str(tmp_path / "o"), "--units", "metric")
    assert done.returncode == 0, done.stderr
    with (tmp_path / "o" / "sweep.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 8 * 9
    assert float(rows[0]["rod.diameter [mm]"]) == pytest.approx(38.1)
    assert rows[0]["pump"] == rows[8]["pump"]
    assert float(rows[0]["Cycle [s]"]) > 0.0
    assert "rod_buckling" in rows[0]["Hard limits crossed"].split()


def test_sets_fitted_and_another_machine_count() -> None:
    plain = answer("sweep", ALDER, "rod")
    other = answer("sweep", ALDER, "rod", "--set", "pump=19 gpm two-stage, 700 psi")
    assert other["parts"]["pump"] == "19 gpm two-stage, 700 psi"
    assert other["points"][2]["cycle"]["total_s"] < plain["points"][2]["cycle"]["total_s"]
    fitted = answer("sweep", ALDER, "rod", "--fitted")
    checked = answer("check", ALDER, "--fitted")
    assert fitted["points"][2]["cycle"]["total_s"] == pytest.approx(checked["cycle"]["total_s"])
    assert fitted["points"][2]["cycle"]["total_s"] != plain["points"][2]["cycle"]["total_s"]


def test_faults_of_the_call() -> None:
    for words, said in (
        (("rood",), 'did you mean "rod"?'),
        (("rod.diameter=1..2",), "the unit is missing"),
        (("rod", "pump", "engine"), "3 things to vary"),
        (("rod.diameter=1..2 in by 0.01", "bore.wall=0.2..0.4 in by 0.005"), "4,141 points"),
        (("rod", "--set", "rod.diameter=2.5 in"), "whole parts of rod"),
    ):
        done = ramfront("sweep", ALDER, *words)
        assert done.returncode == 2, words
        assert said in done.stderr
        assert done.stdout == ""
    assert "ramfront sweep studies" in ramfront("sweep", "--help").stdout


HANDS = "the hands are not ready sooner"


def test_the_hands_are_blamed_only_where_they_hold_a_quicker_ram_up() -> None:
    quick = answer("sweep", ALDER, "bore", "--set", "work_hoses=pair of 3/4 in, two-wire, 3125 psi")
    assert HANDS not in " ".join(quick["advice"])
    no_detent = answer("sweep", "studies/kvarnby", "return_hose")
    assert HANDS not in " ".join(no_detent["advice"])
    held = answer("sweep", ALDER, "rod", "--set", "work.handling_time=60 s")
    assert HANDS in " ".join(held["advice"])
    loaded = [point["cycle"]["loaded_total_s"] for point in held["points"] if point["feasible"]]
    gained = [point["useful_saved_s"] for point in held["points"] if point["feasible"]]
    checked = answer("check", ALDER, "--set", "work.handling_time=60 s")
    saved = checked["cycle"]["loaded_total_s"] - min(loaded)
    assert saved > 0.3
    assert max(gained) < 0.1 * saved
    assert f"takes {saved:.3g} s off the cycle through wood" in " ".join(held["advice"])


def test_what_seldom_keeps_its_limits_is_not_recommended_outright() -> None:
    found = answer("sweep", "studies/kvarnby", "bore")
    (stop,) = found["stops"]
    words = " ".join(found["advice"])
    assert stop["all_kept_chance"] < 0.5
    assert "By the plain numbers 90 mm bore" in words
    assert f"it keeps all hard limits in only {100 * stop['all_kept_chance']:.0f} %" in words
    assert "Put on 90 mm bore" not in words


def test_things_in_the_plural_are_left_as_they_are() -> None:
    words = ramfront("sweep", "studies/alder-yard", "work_hoses", columns=200).stdout
    assert "Leave the work hoses as they are: " in words
