"""What is said of a line of models follows the numbers, also where they turn the advice round."""

from __future__ import annotations

import csv
import dataclasses
import io
import math
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from rich.console import Console

from optimise.machine.setting import UserLimit
from optimise.report.charts import Section
from optimise.report.lineup_answer import lineup_answer, lineup_table
from optimise.report.lineup_section import lineup_section
from optimise.report.lineup_words import (
    LineupReport,
    advice,
    lineup_report,
    print_lineup,
)
from optimise.report.sources import Sources
from optimise.search import lineup
from optimise.search.front import find_front
from optimise.search.goals import CYCLE as TIME
from optimise.search.lineup import new_machines, new_setting
from optimise.study.load import load_study
from optimise.study.model import Buyers, Lineup, Money, Study
from optimise.units import show

STUDIES = Path(__file__).parents[2] / "studies"
CHOICES = {
    "engine": 3,
    "pump": 5,
    "bore": 3,
    "rod": 5,
    "valve": 9,
    "work_hoses": 4,
    "return_hose": 3,
    "filter": 3,
}
EASY = Buyers(name="yards", number=20.0, longest_cycle=15.0, highest_price=3500.0)
QUICK = Buyers(
    name="dealers", number=20.0, longest_cycle=10.5, highest_price=4500.0, least_force=1e5
)


@cache
def cut_down() -> Study:
    study = load_study(STUDIES / "alder-yard")
    allowed = {
        category: names[: CHOICES[category]] if category in CHOICES else (study.owned[category],)
        for category, names in study.allowed.items()
    }
    return dataclasses.replace(study, allowed=allowed)


@cache
def report(
    buyers: tuple[Buyers, ...], models: int | None = None, model_cost: float = 100.0
) -> LineupReport:
    base = cut_down()
    terms = Lineup(stock=1.0, model_cost=model_cost, leave_out=base.lineup.leave_out)
    money = Money(labour_rate=55.0, margin=0.25)
    setting = dataclasses.replace(base.setting, money=money)
    study = dataclasses.replace(base, buyers=buyers, lineup=terms, setting=setting)
    return lineup_report(study, models)


def money(found: LineupReport, amount: float) -> str:
    return f"{math.floor(amount + 0.5):,} {found.study.currency}"


def said(*given: Any, **more: Any) -> str:
    found = report(*given, **more)
    sentences = advice(found.study, found.answer)
    assert 1 <= len(sentences) <= 3
    assert all(sentence.endswith(".") for sentence in sentences)
    return " ".join(sentences)


def test_two_models_where_they_pay_and_one_where_a_model_costs_more() -> None:
    cheap = report((EASY, QUICK))
    gain = cheap.answer.gain(0)
    assert gain > 0.0
    words = said((EASY, QUICK))
    first, second = cheap.answer.line.models
    assert words.startswith("Build two models: A for")
    for model in (first, second):
        assert f"{model.price:,.0f} USD" in words
    assert f"{len(cheap.answer.line.shared)} parts in common" in words or "parts in common" in words
    assert "One more model would bring nothing: stop at two models" in words
    dear = said((EASY, QUICK), model_cost=100.0 + gain + 1.0)
    assert dear.startswith("Build one model: A for yards and dealers at")
    assert "One more model would bring nothing: stop at one model" in dear
    assert said((EASY, QUICK), model_cost=100.0 + gain - 1.0).startswith("Build two models")


def test_one_model_asked_for_where_two_pay_says_what_the_second_brings() -> None:
    found = report((EASY, QUICK), 1)
    words = said((EASY, QUICK), 1)
    assert words.startswith("Build one model")
    assert f"One more model would bring {found.answer.gain(0):,.0f} USD more" in words
    more = said((EASY, QUICK), 5)
    assert more.startswith("Build two models")
    assert "Three more models would bring nothing" in more


def test_who_is_left_out_and_why() -> None:
    poor = dataclasses.replace(QUICK, name="poor", highest_price=1500.0)
    found = report((EASY, poor))
    over = found.answer.terms.price(found.answer.cheapest[1]) - 1500.0
    words = said((EASY, poor))
    assert "leave out poor, because the cheapest machine that does for them sells at" in words
    assert over > 0.0
    assert f"{-(-over // 1):,.0f} USD over what they pay" in words
    enough = dataclasses.replace(poor, highest_price=1500.0 + -(-over // 1))
    assert "leave out" not in said((EASY, enough))
    hopeless = dataclasses.replace(QUICK, name="wishers", longest_cycle=0.5)
    study = report((EASY, hopeless)).study
    front = find_front(new_machines(study), new_setting(study)).sheet
    quickest = float(front.results[TIME].min())
    assert (
        "leave out wishers, because no machine of these lists is quick enough for them: the "
        f"quickest takes {show(quickest, 'time', 'us')}"
    ) in said((EASY, hopeless))
    giant = dataclasses.replace(QUICK, name="giants", least_force=1e7)
    assert "no machine of these lists is strong enough for them: the strongest has" in said(
        (EASY, giant)
    )
    few = dataclasses.replace(QUICK, name="few", number=1.0)
    assert "leave out few, because what they pay over the parts does not bring in" in said(
        (EASY, few), model_cost=5000.0
    )
    found = report((EASY, QUICK))
    least = found.answer.terms.price(found.answer.cheapest[0])
    sparing = dataclasses.replace(EASY, number=90.0, highest_price=least + 1.0)
    assert found.answer.terms.price(found.answer.cheapest[1]) > least + 1.0
    many = dataclasses.replace(QUICK, highest_price=4500.0, number=2.0)
    words = said((sparing, many), 1)
    assert "leave out dealers, because no more than one model may be built" in words


def test_nobody_to_build_for() -> None:
    poor = dataclasses.replace(EASY, highest_price=1000.0)
    far = dataclasses.replace(QUICK, highest_price=500.0)
    words = said((poor, far))
    assert words.startswith("Build no model for these buyers: nearest are yards, and the cheapest")
    hopeless = dataclasses.replace(QUICK, longest_cycle=0.5)
    assert "no machine of these lists" in said((hopeless,))


def limited(result: str, at_most: float) -> Study:
    """The cut-down study with a limit of its own."""
    base = report((EASY, QUICK)).study
    limit = UserLimit(name="my limit", result=result, at_most=at_most)
    limits = (*base.setting.user_limits, limit)
    return dataclasses.replace(base, setting=dataclasses.replace(base.setting, user_limits=limits))


def test_limits_that_no_machine_keeps_are_named_as_the_reason() -> None:
    """Machines are quick and strong enough, but oil as cold as ice is kept by none."""
    found = lineup_report(limited("oil.steady_degC", 273.15))
    words = " ".join(advice(found.study, found.answer))
    assert "no machine of these lists keeps every hard limit; in a sample of them my limit" in words
    assert "my limit stops 100 %" in words
    assert "quick" not in words
    for entry in lineup_answer(found)["buyers"]:
        assert entry["stopped_by"][0]["name"] == "my limit"
        assert entry["stopped_by"][0]["crossed"] == 1.0
    assert "no machine of these lists keeps every hard limit" in printed(found)


def test_limits_that_stop_the_quick_and_strong_are_named_too() -> None:
    """A limit on the force leaves machines for the one group and none for the other."""
    wishers = dataclasses.replace(QUICK, name="wishers", longest_cycle=0.5)
    study = limited("force_N", QUICK.least_force - 1.0)
    found = lineup_report(dataclasses.replace(study, buyers=(EASY, QUICK, wishers)))
    words = " ".join(advice(found.study, found.answer))
    assert (
        "leave out dealers, because every machine of these lists that is quick and strong" in words
    )
    assert "crosses a hard limit; in a sample of them my limit stops 100 %" in words
    easy, quick, hopeless = lineup_answer(found)["buyers"]
    assert easy["stopped_by"] is None
    assert quick["stopped_by"][0]["name"] == "my limit"
    assert hopeless["stopped_by"] == []
    assert all(stopped is None for stopped in report((EASY, QUICK)).answer.stops)


def test_share_of_the_shop_is_said_where_fewer_models_leave_it_more() -> None:
    found = report((EASY, QUICK))
    keeps = [line.contribution for line in found.answer.lines]
    assert keeps[0] > keeps[1]
    words = said((EASY, QUICK))
    assert f"best for shop and buyers together ({money(found, found.answer.line.worth)})" in words
    assert "For the shop alone, at these prices of cost and margin, one model keeps most" in words
    assert f"{money(found, keeps[0])} against {money(found, keeps[1])} with two models" in words
    short = math.ceil(keeps[0] - keeps[1])
    assert f"Build one model, or two models if buyers pay {money(found, short)} more" in words
    assert "For the shop alone" not in said((EASY,))
    least = found.answer.terms.price(found.answer.cheapest[0])
    sparing = dataclasses.replace(EASY, highest_price=least + 1.0)
    apart = report((sparing, QUICK))
    assert apart.answer.lines[1].contribution > apart.answer.lines[0].contribution
    assert "For the shop alone" not in said((sparing, QUICK))


def test_answer_and_table_hold_the_same_models() -> None:
    found = report((EASY, QUICK))
    entry = lineup_answer(found)
    assert entry["line"] == entry["lines"][entry["models"] - 1]
    assert [line["most_models"] for line in entry["lines"]] == [1, 2, 3, 4, 5]
    rows = list(csv.DictReader(io.StringIO(lineup_table(found).csv)))
    designs = [design for line in entry["lines"] for design in line["designs"]]
    assert len(rows) == len(designs)
    for row, design in zip(rows, designs, strict=True):
        assert float(row["Price"]) == pytest.approx(design["price"], abs=0.01)
        assert float(row["Cycle [s]"]) == pytest.approx(design["cycle_s"], rel=1e-5)
        assert row["Serves"] == "; ".join(design["serves"])
        assert row["pump"] == design["parts"]["pump"]
        assert design["limits_min_margin"] >= 0.0


def test_cells_that_look_like_formulas_are_made_inert() -> None:
    found = report((dataclasses.replace(EASY, name="=1+1"),))
    (row, *_) = csv.DictReader(io.StringIO(lineup_table(found).csv))
    assert row["Serves"] == "'=1+1"


def printed(found: LineupReport) -> str:
    console = Console(width=160, record=True, file=io.StringIO())
    print_lineup(console, found)
    return " ".join(console.export_text().split())


def test_page_says_what_is_proven_and_what_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = printed(report((EASY, QUICK)))
    assert "Proven: no other line is worth more." in plain
    assert "never feel for a leak" in plain
    monkeypatch.setattr(lineup, "MOST_MACHINES", 1)
    found = lineup_report(report((EASY, QUICK)).study)
    assert not found.answer.proven
    words = printed(found)
    assert "Not proven" in words
    assert f"could be worth {found.answer.gap:,.0f} USD more at most" in words
    assert lineup_answer(found)["proven"] is False
    assert lineup_answer(found)["worth_gap"] >= 0.0


def drawn(found: LineupReport | None) -> Section | None:
    return lineup_section(cast("Sources", SimpleNamespace(lineup=found)))


def cells(section: Section, title: str) -> list[list[Any]]:
    tables = [one for part in (section, *section["groups"]) for one in part["tables"]]
    (table,) = [one for one in tables if one["title"].startswith(title)]
    return [[cell[1] if isinstance(cell, list) else cell for cell in row] for row in table["rows"]]


def test_section_of_the_page_has_the_figures_of_the_answer() -> None:
    found = report((EASY, QUICK))
    section, entry = drawn(found), lineup_answer(found)
    assert section is not None
    (chart,) = section["charts"]
    together, shop = (one["y"] for one in chart["panels"][0]["series"])
    assert together == pytest.approx([one["worth"] for one in entry["lines"]], rel=1e-5)
    assert shop == pytest.approx([one["contribution"] for one in entry["lines"]], rel=1e-5)
    assert [one["value"] for one in chart["marks"]] == [2.0, 1.0]
    for row, line in zip(cells(section, "Lines"), entry["lines"], strict=True):
        assert row[1:6] == pytest.approx(
            [line[key] for key in
             ("worth", "one_more_brings", "contribution", "stock_cost", "shared_saving")],
            rel=1e-5,
        )  # fmt: skip
    designs = entry["line"]["designs"]
    for row, design in zip(cells(section, "The best line"), designs, strict=True):
        expected = [design[key] for key in ("price", "cost", "cycle_s", "force_N")]
        assert row[2:6] == pytest.approx(expected, rel=1e-5)
    shared = {(one["category"].replace("_", " "), one["part"]) for one in entry["line"]["shared"]}
    for category, *names in cells(section, "Parts of each model"):
        for name, design in zip(names, designs, strict=True):
            plain = name.removesuffix(" *")
            assert plain == design["parts"][category.replace(" ", "_")]
            assert name.endswith(" *") == ((category, plain) in shared)
    kits = [*(one["kit"] for one in entry["kits"]["buyers"]), entry["kits"]["best_value"]]
    for row, kit in zip(cells(section, "The cheapest kit"), kits, strict=True):
        assert [row[1], *row[3:7]] == pytest.approx(
            [kit[key] for key in ("price", "cycle_s", "piece_s", "force_N", "gained_s")], rel=1e-5
        )
    assert [note[0] for note in section["notes"]] == entry["advice"]


def test_section_says_who_is_left_out_and_is_left_out_itself_without_buyers() -> None:
    hopeless = dataclasses.replace(QUICK, name="wishers", longest_cycle=0.5)
    section = drawn(report((EASY, hopeless)))
    assert section is not None
    (_, left) = cells(section, "Who buys what")
    for words in left[-1].values():
        assert words.startswith("none: no machine of these lists is quick enough for them")
    assert cells(section, "The cheapest kit")[1][-1] == "no kit does"
    assert drawn(None) is None


def test_names_are_no_markup() -> None:
    named = dataclasses.replace(EASY, name="[bold]yards[/]")
    assert "[bold]yards[/]" in printed(report((named,)))
