"""The benchmark's made-up parts: lists twice as long, close to the listed ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from optimise.machine.parts import take
from optimise.study.model import PriceList
from optimise.study.pricelists import read_list
from optimise.study.space import Space
from tests.bench import growth as bench
from tests.bench.common import Row, problem, random_rows
from tests.bench.growth import denser, list_text


def test_a_denser_list_holds_the_listed_parts_and_as_many_near_them() -> None:
    space, _ = problem("kvarnby")
    for prices in space.lists:
        twice = denser(prices, 1)
        count = len(prices.names)
        assert len(set(twice.names)) == 2 * count
        assert twice.names[:count] == prices.names
        price = np.asarray(twice.parts.price)
        assert np.array_equal(price[:count], np.asarray(prices.parts.price))
        near = price[count:][price[:count] > 0.0] / price[:count][price[:count] > 0.0]
        assert ((near >= 0.97) & (near <= 1.03)).all()
        assert (near != 1.0).all()


def test_growth_doubles_one_list_after_another(monkeypatch: pytest.MonkeyPatch) -> None:
    space, setting = problem("kvarnby")
    few = Space(
        [
            PriceList(
                category=prices.category,
                names=prices.names[:1],
                parts=take(prices.parts, np.arange(1)),
            )
            for prices in space.lists
        ]
    )
    monkeypatch.setattr(bench, "problem", lambda _: (few, setting))
    monkeypatch.setattr(bench, "LARGEST", 4)
    monkeypatch.setattr(bench, "whole_command", lambda _, asked: Row("", f"{asked.size}", 1.0, "s"))
    *rows, whole = bench.growth("kvarnby")
    assert [row.what for row in rows] == ["1 machines", "2 machines", "4 machines"]
    assert rows[0].ratio == 1.0
    assert all("MB at most" in row.note and row.value > 0.0 for row in rows)
    assert whole.what == "4"


@pytest.mark.parametrize("name", ["alder-yard", "kvarnby"])
def test_a_denser_list_can_be_written_for_a_study(name: str, tmp_path: Path) -> None:
    space, _ = problem(name)
    for nth, listed in enumerate(space.lists):
        prices = denser(listed, nth)
        (tmp_path / f"{prices.category}.csv").write_text(list_text(prices), encoding="utf-8")
        found = read_list(tmp_path, prices.category, "metric")
        assert not found.faults
        assert tuple(found.names) == prices.names
        for key in found.rows[0]:
            column = [row[key] for row in found.rows]
            assert column == pytest.approx(
                np.asarray(getattr(prices.parts, key)).tolist(), rel=1e-9
            )


def test_random_machines_are_of_the_space() -> None:
    space, _ = problem("kvarnby")
    rows = random_rows(space, 500)
    assert (rows >= 0).all()
    assert (rows < np.array(space.sizes)).all()
    assert len(np.unique(rows, axis=0)) == 500
