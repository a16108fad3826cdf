"""What a search may conclude of the cold start of machines with worse hoses."""

from __future__ import annotations

import dataclasses

import numpy as np

from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import LIMITS
from optimise.machine.strokes import HUNTING
from tests.machine.example import IN, PSI, setting
from tests.machine.test_laws import random_machines

COLD = setting(surroundings__cold_oil_temperature=263.15)
HOSES = ("pressure_hose", "return_hose")


def test_a_wider_hose_may_load_a_cold_engine_more_and_the_search_knows() -> None:
    """It lets the pump take its large section back; the hope of the limit is over both."""
    chance = np.random.default_rng(8)
    count = 600
    narrow = random_machines(29, count)
    narrow = dataclasses.replace(
        narrow,
        pump=dataclasses.replace(
            narrow.pump, shift_pressure=chance.uniform(60.0, 300.0, count) * PSI
        ),
        return_hose=dataclasses.replace(
            narrow.return_hose, inner_diameter=chance.uniform(0.2, 0.8, count) * IN
        ),
    )
    wider = {
        name: dataclasses.replace(
            getattr(narrow, name),
            inner_diameter=getattr(narrow, name).inner_diameter * chance.uniform(1.0, 1.8, count),
        )
        for name in HOSES
    }
    wide = dataclasses.replace(narrow, **wider)
    with np.errstate(all="ignore"):
        one, other = Evaluation(narrow, COLD), Evaluation(wide, COLD)
        shifted = np.asarray(one.cold.strokes.neutral.high_stage) < np.asarray(
            other.cold.strokes.neutral.high_stage
        )
        assert shifted.sum() > 20
        hunting = np.asarray(one.cold.strokes.neutral.mode) == HUNTING
        assert hunting.sum() > 20
        for name in ("cold_engine", "cold_relief"):
            limit = next(limit for limit in LIMITS if limit.name == name)
            assert limit.hope is not None
            before, after = (np.asarray(limit.margin(e)) for e in (one, other))
            hoped = np.asarray(limit.hope(other))
            assert np.isfinite(before).all()
            assert (before <= hoped + 1e-7).all(), name
            assert (after < before - 1e-3)[shifted].any(), name
            assert (after >= before - 1e-7)[~shifted & ~hunting].all(), name
