"""Advice on steps follows from the numbers and flips with them."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from optimise.errors import CallError
from optimise.machine.limits import limits_of
from optimise.machine.sheet import sheet_of
from optimise.report import next_steps as next_steps_module
from optimise.report.next_steps import (
    NextSteps,
    Wish,
    crossed_by,
    in_company,
    next_steps,
    ranked,
    read_wish,
    seconds_per_money,
    useless,
)
from optimise.report.plan_words import reasons
from optimise.report.step_advice import advice
from optimise.report.step_words import print_steps, steps_answer, steps_table
from optimise.report.text import SHOWN_TIME
from optimise.search.front import FrontAnswer, find_front
from optimise.search.goals import PACES
from optimise.search.plan import Plan
from optimise.study.load import load_study
from optimise.study.model import Study
from optimise.study.space import upgrade_space
from tests.report.example import empty_study

STUDIES = Path(__file__).parents[2] / "studies"
NAMES = ("alder-yard", "kvarnby")
PUMP = "13 gpm two-stage, 900 psi"


@cache
def studied(name: str, by: str = "piece") -> tuple[Study, FrontAnswer]:
    study = load_study(STUDIES / name)
    return study, find_front(upgrade_space(study)[0], study.setting, goals=PACES[by])


def asked(name: str, wish: Wish, **money: float) -> NextSteps:
    study, front = studied(name, wish.by)
    rates = dataclasses.replace(study.setting.money, **money)
    setting = dataclasses.replace(study.setting, money=rates)
    return next_steps(dataclasses.replace(study, setting=setting), wish, front)


@cache
def usual(name: str) -> NextSteps:
    return asked(name, Wish())


# --- what is said -------------------------------------------------------------------------------


def test_first_step_of_the_plan_is_named_with_gain_and_price() -> None:
    found = asked("alder-yard", Wish(budget=1000.0))
    assert found.plan is not None
    first = advice(found)[0]
    parts = found.space.names(found.plan.rows[1])
    changed = [
        parts[category]
        for place, category in enumerate(found.space.categories)
        if found.plan.rows[1][place] != found.plan.rows[0][place]
    ]
    assert first.startswith("Put on ")
    assert all(part in first for part in changed)
    outlay = found.plan.sheet.results["cost.outlay"]
    [said] = re.findall(r"for ([\d,]+) USD", first)
    assert float(said.replace(",", "")) == pytest.approx(outlay[1] - outlay[0], abs=0.5)
    assert outlay[-1] - outlay[0] <= 1000.0


@pytest.mark.parametrize("name", NAMES)
def test_room_is_claimed_only_where_a_limit_is_kept_by_it(name: str) -> None:
    claimed = 0
    for budget in (1000.0, 2500.0, 30000.0):
        found = asked(name, Wish(budget=budget))
        plan = found.plan
        if plan is None or len(plan.rows) < 2 or "makes room for" not in advice(found)[0]:
            continue
        claimed += 1
        gained = -np.diff(plan.sheet.results["work.split_period_s"])
        main = int(np.argmax(gained))
        changed = plan.rows[main] != plan.rows[main + 1]
        without, with_it = (
            set(crossed_by(sheet_of(found.space.machine(row[None, :]), found.study.setting), 0))
            for row in (
                np.where(changed, plan.rows[main + 1], plan.rows[0]),
                np.where(changed, plan.rows[main + 1], plan.rows[1]),
            )
        )
        assert without - with_it
    if name == "alder-yard":
        assert claimed


def test_parts_named_that_cross_a_limit_are_not_recommended() -> None:
    found = asked("alder-yard", Wish(parts={"rod": "3.5 in rod, 75 ksi"}))
    said = advice(found)
    assert said[0].startswith("Do not go for these parts")
    assert "velocity in the work hoses" in said[0]
    assert not any("pays" in sentence or "Put on 3.5" in sentence for sentence in said)


def test_seconds_behind_the_hands_do_not_count() -> None:
    study, _ = studied("alder-yard")
    work = dataclasses.replace(study.setting.work, handling_time=30.0, overlapped_share=1.0)
    slow = dataclasses.replace(study, setting=dataclasses.replace(study.setting, work=work))
    rod = {"rod": "2.25 in rod, 75 ksi"}
    for by, asked_about, counts in (
        ("piece", study, True),
        ("piece", slow, False),
        ("cycle", slow, False),
    ):
        found = next_steps(asked_about, Wish(parts=rod, by=by), studied("alder-yard", by)[1])
        entry = next(one for one in steps_answer(found)["steps"] if one["part"] == rod["rod"])
        assert entry["gain"]["cycle_s"] > 0.3
        assert (entry["gain"]["piece_s"] > 0.3) is counts
        assert (entry["s_per_money"] * entry["outlay"] > 0.3) is (counts or by == "cycle")
        assert ("next to nothing off a piece" in advice(found)[0]) is (by == "cycle")


def test_ranks_and_plan_go_by_the_time_asked_for() -> None:
    """The cheapest pump takes much off a piece and nothing off the stroke of a stopwatch."""
    piece, cycle = (asked("alder-yard", Wish(budget=300.0, by=by)) for by in PACES)
    assert piece.plan is not None and cycle.plan is not None
    names = [found.space.names(found.plan.rows[-1])["pump"] for found in (piece, cycle)]
    assert names[0] == PUMP != names[1]
    for better, other, key in (
        (piece, cycle, "work.split_period_s"),
        (cycle, piece, "cycle.total_s"),
    ):
        assert better.plan is not None and other.plan is not None
        best, rest = (one.plan.sheet.results[key][-1] for one in (better, other))
        assert best < rest - 0.1
        assert steps_answer(better)["by"] == key
    first = [
        found.space.names(found.steps.rows[ranked(found)[0]])["pump"] for found in (piece, cycle)
    ]
    assert first[0] == PUMP != first[1]


def test_a_target_is_a_time_of_the_kind_asked_for() -> None:
    for by, key in (("piece", "work.split_period_s"), ("cycle", "cycle.total_s")):
        found = asked("alder-yard", Wish(target=12.0, by=by))
        assert found.plan is not None
        times = found.plan.sheet.results[key]
        assert times[-1] <= 12.0 < times[0]


def test_nothing_to_put_on_without_money() -> None:
    found = asked("alder-yard", Wish(budget=0.0))
    assert advice(found)[0].startswith("Keep what is on the machine")


@pytest.mark.parametrize("wish", [Wish(budget=1000.0), Wish(target=12.0), Wish()])
def test_a_plan_goes_for_no_machine_that_is_a_hair_too_weak(
    wish: Wish, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked for: a newton more than the machine has that would be the goal without it."""
    known = usual("alder-yard")

    def plan_with(force: float) -> Plan:
        steps = dataclasses.replace(known.steps, least_force=force)
        monkeypatch.setattr(next_steps_module, "find_steps", lambda *_: steps)
        plan = next_steps(known.study, wish, known.front).plan
        assert plan is not None
        return plan

    force = float(plan_with(1.0).sheet.results["force_N"][-1])
    assert plan_with(force + 1.0).sheet.results["force_N"][-1] >= force + 1.0


def test_a_goal_out_of_reach_is_said_to_be() -> None:
    found = asked("alder-yard", Wish(target=0.5))
    assert found.plan is None
    assert advice(found)[0].startswith("Nothing in the lists does that: asked for was the cheapest")
    assert "The least time per piece with that force is " in advice(found)[0]
    assert steps_answer(found)["plan"] is None
    strong = asked("alder-yard", Wish(budget=1000.0, least_force=1e9))
    assert strong.plan is None
    assert "The strongest machine that keeps every limit has " in advice(strong)[0]


def test_lists_without_any_machine_that_keeps_the_limits_are_said_to_be() -> None:
    found = next_steps(empty_study(), Wish())
    assert advice(found)[0].endswith("No machine of the lists keeps every hard limit.")


def test_printed_rates_are_seconds_off_a_piece() -> None:
    found = usual("alder-yard")
    shown = io.StringIO()
    print_steps(Console(file=shown, width=200), found)
    entries = {entry["part"]: entry for entry in steps_answer(found)["steps"]}
    lines = [one.rstrip() for one in shown.getvalue().splitlines() if one.startswith(PUMP)]
    [row] = [one for one in lines if one.endswith(" s")]
    gain = entries[PUMP]["gain"]
    assert gain["piece_s"] > 100.0 * gain["cycle_s"] > 0.0
    [head] = re.findall(r"per ([\d,]+) *$", shown.getvalue(), re.MULTILINE)[:1]
    money = float(head.replace(",", ""))
    assert money * entries[PUMP]["s_per_money"] > 0.5
    assert row.split()[-2:] == [f"{money * entries[PUMP]['s_per_money']:.2f}", "s"]


def test_a_good_part_that_is_stopped_alone_is_named_with_its_company() -> None:
    found = usual("alder-yard")
    nth = in_company(found)[0]
    sentence = advice(found)[1]
    part = found.space.names(found.steps.rows[nth])[
        found.space.categories[found.steps.category[nth]]
    ]
    assert sentence.startswith(f"Do not put on {part} alone: it ")
    assert "With " in sentence


@pytest.mark.parametrize("name", NAMES)
def test_no_bundle_is_named_that_some_of_its_own_parts_beat(name: str) -> None:
    found = usual(name)
    steps, beaten = found.steps, 0
    for nth in np.flatnonzero(~steps.good_alone & (steps.bundle >= 0)).tolist():
        lane = int(steps.bundle[nth])
        bundle = steps.bundles[lane]
        places = np.flatnonzero(bundle != steps.owned)
        rows = []
        for code in range(1, 2 ** len(places) - 1):
            row = steps.owned.copy()
            some = [place for bit, place in enumerate(places) if code >> bit & 1]
            row[some] = bundle[some]
            rows.append(row)
        sheet = sheet_of(found.space.machine(np.stack(rows)), found.study.setting)
        better = (
            sheet.feasible
            & (sheet.results["force_N"] >= steps.least_force)
            & (sheet.results["cost.outlay"] <= steps.bundle_sheet.results["cost.outlay"][lane])
            & (
                sheet.results["work.split_period_s"]
                <= steps.bundle_sheet.results["work.split_period_s"][lane] + 0.005
            )
        )
        assert (nth in in_company(found)) is not bool(better.any())
        beaten += bool(better.any())
    assert beaten > 0


def test_the_worth_of_an_hour_decides_how_far_a_plan_pays() -> None:
    @cache
    def said(worth: float) -> list[str]:
        return advice(asked("alder-yard", Wish(budget=1000.0), hourly_worth=worth))

    worths = np.geomspace(0.01, 1e5, 3)
    assert "no part of the plan pays" in said(worths[0])[-1]
    assert "pays to its last step" in said(worths[-1])[-1]
    sentences = {said(worth)[-1].split(": ", 1)[1][:30] for worth in worths}
    assert len(sentences) >= 2
    assert not any("A second off every piece" in sentence for sentence in said(0.0))


def test_a_single_part_that_pays_is_named_where_the_plan_does_not() -> None:
    found = asked("alder-yard", Wish(budget=300.0, by="cycle"))
    last = advice(found)[-1]
    assert "no part of the plan pays" in last
    named = next(
        entry
        for entry in steps_answer(found)["steps"]
        if f"But {entry['part']} alone does pay" in last
    )
    base = found.steps.base.results
    worth = float(base["work.second_worth"][0])
    assert worth * named["gain"]["piece_s"] > named["outlay"]
    dear = asked("alder-yard", Wish(budget=300.0, by="cycle"), hourly_worth=0.01)
    assert advice(dear)[-1].endswith("no part of the plan pays.")


# --- the numbers --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_change_is_in_one_group_and_the_groups_are_what_they_say(name: str) -> None:
    found = usual(name)
    steps = found.steps
    groups = ranked(found) + in_company(found) + useless(found)
    assert sorted(groups) == list(range(len(steps.rows)))
    answer = steps_answer(found)
    by_part: dict[tuple[str, str], Any] = {
        (one["category"], one["part"]): one for one in answer["steps"]
    }
    assert len(by_part) == len(steps.rows)
    base = answer["base"]
    for one in by_part.values():
        assert one["outlay"] == pytest.approx(one["price"] + one["labour"] - one["resale"])
        if one["good_alone"]:
            assert not one["crossed"]
            assert one["gain"]["piece_s"] > 0.0
            assert one["gain"]["force_N"] >= -1e-6
            assert one["bundle"] is None
        elif one["bundle"] is not None:
            assert one["bundle"]["gain"]["piece_s"] > 0.0
            assert one["bundle"]["parts"][one["category"]] == one["part"]
            assert 2 <= len(one["bundle"]["parts"]) <= 3
    rates = [
        seconds_per_money(entry["gain"]["piece_s"], entry["outlay"])
        for nth in ranked(found)
        for entry in [answer["steps"][nth]]
    ]
    assert rates == sorted(rates, reverse=True)
    assert base["binding"]
    for nth in range(len(steps.rows)):
        assert bool(crossed_by(steps.sheet, nth)) is not bool(steps.sheet.feasible[nth])


@pytest.mark.parametrize("name", NAMES)
def test_a_part_that_is_no_good_is_shown_with_the_cheapest_machine_that_is_strong_enough(
    name: str,
) -> None:
    """Looked for one by one among all machines of the front."""
    found = usual(name)
    steps, front = found.steps, found.front.sheet.results
    entries = {(one["category"], one["part"]): one for one in steps_answer(found)["steps"]}
    weak = shown = nothing = 0
    for nth in useless(found):
        category = found.space.categories[steps.category[nth]]
        part = found.space.names(steps.rows[nth])[category]
        having = [
            (float(front["cost.outlay"][row]), float(front["force_N"][row]))
            for row, machine in enumerate(found.front.indices)
            if machine[steps.category[nth]] == steps.rows[nth][steps.category[nth]]
            and front["work.split_period_s"][row] < steps.base_time - 1e-6
        ]
        strong = [outlay for outlay, force in having if force >= steps.least_force]
        entry = entries[category, part]["on_front"]
        assert (entry is None) is (not strong)
        if entry is None:
            nothing += 1
            continue
        spent = float(steps.base.results["cost.outlay"][0])
        assert entry["gain"]["force_N"] >= 0.0
        assert entry["gain"]["piece_s"] > 0.0
        assert entry["outlay"] == pytest.approx(min(strong) - spent)
        assert entry["parts"][category] == part
        weak += min(outlay for outlay, _ in having) < min(strong)
        shown += 1
    assert min(weak, shown, nothing) > 0


@pytest.mark.parametrize("name", NAMES)
def test_plan_in_the_answer_spends_what_its_parts_cost(name: str) -> None:
    found = usual(name)
    assert found.plan is not None
    machines = steps_answer(found)["plan"]["machines"]
    assert machines[0]["outlay_so_far"] == 0.0
    assert machines[0]["put_on"] == {}
    assert all(machine["put_on"] for machine in machines[1:])
    assert all(machine["crossed"] == [] for machine in machines[1:])
    assert machines[-1]["cycle_s"] < machines[0]["cycle_s"]


def test_a_pinned_goal_is_set_against_the_best_for_the_same_money() -> None:
    found = asked("alder-yard", Wish(parts={"engine": "20 hp petrol V-twin, horizontal shaft"}))
    assert found.plan is not None
    assert found.rival is not None
    mine, best = (plan.sheet.results for plan in (found.plan, found.rival))
    spent = mine["cost.outlay"][0]
    assert best["cost.outlay"][-1] <= mine["cost.outlay"][-1]
    assert best["work.split_period_s"][-1] < mine["work.split_period_s"][-1]
    assert spent == best["cost.outlay"][0]


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (
            {"engine": "20 hp petrol V-twin, horizontal shaft"},
            r"The best for the same money is .* instead: it takes [\d.]+ s less for every piece,? ",
        ),
        ({"pump": PUMP}, "No machine of the lists that is as strong is quicker"),
        ({"rod": "1.5 in rod, 75 ksi"}, "keeps every hard limit"),
    ],
)
def test_a_sentence_says_whether_a_pinned_goal_is_beaten(parts: dict[str, str], said: str) -> None:
    found = asked("alder-yard", Wish(parts=parts))
    assert found.plan is not None
    assert found.rival is not None
    words = advice(found)[1]
    assert re.match(f".*{said}", words), words
    mine, best = (plan.sheet for plan in (found.plan, found.rival))
    saved = float(mine.results["work.split_period_s"][-1] - best.results["work.split_period_s"][-1])
    assert (f"{round(saved, 2):.3g} s less" in words) == (saved > SHOWN_TIME)
    forces = [float(sheet.results["force_N"][-1]) for sheet in (mine, best)]
    assert ("force" in words) == (abs(forces[0] - forces[1]) > 1.0)
    assert ("keeps every hard limit" in words) == (not mine.feasible[-1])


def test_a_step_of_a_plan_that_gains_no_time_says_what_it_is_for() -> None:
    """Each claim on the machine rebuilt without the parts of the step."""
    seen = set()
    for name in NAMES:
        for wish in (Wish(), Wish(budget=900.0), Wish(by="cycle")):
            found = asked(name, wish)
            plan, space = found.plan, found.space
            assert plan is not None
            told = reasons(found, plan)
            assert told == [one["reason"] for one in steps_answer(found)["plan"]["machines"]]
            times = plan.sheet.results[found.steps.pace]
            assert told[0] == ""
            for nth in range(1, len(plan.rows)):
                gained = times[nth - 1] - times[nth]
                assert told[nth] or gained > SHOWN_TIME, told
                if told[nth] and gained > SHOWN_TIME:
                    assert gained <= 0.1 * (times[0] - times[-1])
                    assert told[nth].startswith("without it ")
                words = re.match(r"without it (.*) cross(?:es)? (.*)", told[nth])
                if words is None:
                    continue
                seen.add(name)
                before, after = (space.names(row) for row in plan.rows[nth - 1 : nth + 1])
                put_on = {key for key in after if after[key] != before[key]}
                crossing = []
                for later in range(nth + 1, len(plan.rows)):
                    without = {
                        key: before[key] if key in put_on else part
                        for key, part in space.names(plan.rows[later]).items()
                    }
                    row = np.array([space.indices_of(without)])
                    sheet = sheet_of(space.machine(row), found.study.setting)
                    crossing.append(crossed_by(sheet, 0))
                titles = {limit.name: limit.title for limit in limits_of(found.study.setting)}
                first = next(limits for limits in crossing if limits)
                assert titles[first[0]].lower() == words[2].lower()
    assert seen == set(NAMES)


def test_table_has_a_row_for_each_change() -> None:
    found = usual("kvarnby")
    rows = list(csv.DictReader(io.StringIO(steps_table(found).csv)))
    assert len(rows) == len(found.steps.rows)
    assert {row["alone"] for row in rows} >= {"good"}


@pytest.mark.parametrize(
    ("wish", "head", "cell", "key"),
    [
        (Wish(budget=900.5), "Budget asked", "900.5", "budget"),
        (Wish(target=9.25), "Time asked [s]", "9.25", "target_s"),
    ],
)
def test_answers_hold_the_question(wish: Wish, head: str, cell: str, key: str) -> None:
    study, front = studied("alder-yard")
    found = next_steps(study, wish, front)
    assert steps_answer(found)["question"] == {
        **dict.fromkeys(("budget", "target_s", "to", "force_N")),
        key: float(cell),
        "by": "piece",
    }
    for row in csv.DictReader(io.StringIO(steps_table(found).csv)):
        asked = {name: value for name, value in row.items() if name.endswith("asked")}
        assert {**asked, head: row[head]} == {
            "Budget asked": "", "Parts asked": "", "Seconds asked": "piece", head: cell
        }  # fmt: skip


def test_wishes_that_cannot_be_read_are_refused() -> None:
    study, _ = studied("alder-yard")
    assert read_wish(study.lists, None, "9 s", "30000 lbf", ()).target == 9.0
    assert read_wish(None, None, None, None, ("rod=any",)).parts == {"rod": "any"}
    for words in (
        ("100", "9 s", None, ()),
        (None, "9 lb", None, ()),
        (None, None, "strong", ()),
        (None, None, None, ("rood=x",)),
        (None, None, None, ("rod",)),
        ("-5", None, None, ()),
        (None, None, "-3 lbf", ()),
    ):
        with pytest.raises(CallError):
            read_wish(study.lists, *words)
    with pytest.raises(CallError, match="no part"):
        next_steps(study, Wish(parts={"rod": "nothing like it"}))
