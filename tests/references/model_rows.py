"""Check rows: bounds and defaults that the model takes over from sources, and where to stop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np

from optimise.machine.evaluation import HOT_LEVEL, Evaluation
from optimise.machine.limits import BYPASS_RESERVE, LIMITS
from optimise.machine.parts import Engine
from optimise.machine.setting import Constants, Oil, Work
from optimise.search.plan import knee
from optimise.search.returns import worth_stop
from optimise.search.tolerances import TOLERANCES
from tests.machine.example import SETTING, machine
from tests.references.check import PRINTED, Check, Label
from tests.references.units import FOOT, GALLON, GPM, KSI, MINUTE, ZERO_CELSIUS

Compute = Callable[[], float]
Case = tuple[str, str, float, float, str, Compute]


def _rows(source: str, label: Label, reason: str, *cases: Case) -> list[Check]:
    return [Check(*case[:2], source, *case[2:], label, reason) for case in cases]


def _bound(name: str) -> float:
    """Bound of a limit in SI; none of those asked about depends on the machine."""
    limit = next(limit for limit in LIMITS if limit.name == name)
    return float(limit.bound(Evaluation(machine(), SETTING)))


def _default(of: Any, name: str) -> float:
    return float(next(field.default for field in fields(of) if field.name == name))


def _residence(oil: float, flow: float) -> float:
    """Time, s, that an oil volume lasts at a pump flow; the machine has another flow."""
    volume = oil / SETTING.frame.fill_share
    found = Evaluation(machine(tank__volume=volume), SETTING)
    return float(found.residence_time) * float(found.largest_flow) / flow


TAKEN_OVER: tuple[Check, ...] = (
    *_rows(
        "fluid power trade tip on line sizing: suction 2 to 4, return 10 to 15, high pressure 20"
        " to 25 ft/s",
        "published",
        "the number itself",
        ("H85-suction", "bound of velocity, suction", 4.0, 1e-9, "ft/s",
         lambda: _bound("suction_velocity") / FOOT),
        ("H85-return", "bound of velocity, return", 15.0, 1e-9, "ft/s",
         lambda: _bound("return_velocity") / FOOT),
        ("H85-pressure", "bound of velocity, pressure", 25.0, 1e-9, "ft/s",
         lambda: _bound("pressure_velocity") / FOOT),
    ),
    *_rows(
        "service manual of a gear pump, page on lubrication: reservoir at most 180 degF (82 degC)",
        "published",
        PRINTED,
        ("H121-bound", "bound of the steady oil temperature", 82.0, 0.5, "degC",
         lambda: HOT_LEVEL - ZERO_CELSIUS),
    ),
    *_rows(
        "articles on reservoirs of mobile machines: about a minute of pump flow",
        "published",
        "the source says about",
        ("H120", "bound of the oil in the tank", 1.0, 0.01, "min",
         lambda: _bound("tank_volume") / 60.0),
    ),
    *_rows(
        "volume over flow, worked by hand",
        "computed",
        "arithmetic",
        ("H151", "how long 10 gal last at 10 gpm", 1.0, 1e-9, "min",
         lambda: _residence(10 * GALLON, 10 * GPM) / MINUTE),
    ),
    *_rows(
        "guides on filter sizing: bypass at least twice the clean drop",
        "published",
        "the number itself",
        ("H145", "bypass pressure over the bound of the clean drop", 2.0, 1e-9, "-",
         lambda: 1.0 / BYPASS_RESERVE),
    ),
    *_rows(
        "trade article on engine drive of pumps: about 85 % of the rating for continuous use",
        "published",
        "the number itself",
        ("H38-share", "default of an engine's continuous share", 85.0, 1e-9, "%",
         lambda: 100.0 * _default(Engine, "continuous_share")),
    ),
    *_rows(
        "Crane, Technical Paper 410, as used in its solved problems 7.6 and 7.7: sharp entrance"
        " 0.5, exit 1.0",
        "published",
        "the number itself",
        ("H81", "default of the two ends of a line", 1.5, 1e-9, "-",
         lambda: _default(Constants, "line_end_k")),
    ),
    *_rows(
        "textbooks on machine design: steel 30e6 psi",
        "published",
        "half a digit of 206.8 GPa",
        ("E-steel", "default of the elastic modulus", 30e3, 10.0, "ksi",
         lambda: _default(Constants, "elastic_modulus") / KSI),
    ),
    *_rows(
        "lecture file on hydraulic oils: 0.00063 per K",
        "published",
        "the number itself",
        ("H101-default", "default of the expansion", 0.00063, 1e-12, "1/K",
         lambda: _default(Oil, "expansion")),
    ),
    *_rows(
        "Lombardini et al., Forest Products Journal 64 (2014) 171: utilisation 70 to 80 %",
        "published",
        "the middle of the band, half of its width",
        ("S82", "default of the utilisation", 75.0, 5.0, "%",
         lambda: 100.0 * _default(Work, "utilisation")),
    ),
    *_rows(
        "ISO 3448, as listed on pages of the trade: a grade is its midpoint within 10 %",
        "standard",
        "the number itself",
        ("H91-width", "half width of the viscosity's tolerance", 10.0, 1e-9, "%",
         lambda: 100.0 * next(
             one.half_width for one in TOLERANCES if "ISO 3448" in one.reason)),
    ),
)  # fmt: skip

_ACROSS = np.linspace(0.0, 1.0, 10)
_FALLING = (1.0, 1.0, 0.894, 0.864, 0.859, 0.856, 0.852, 0.851, 0.849, 0.848, 0.847, 0.845)

STOPS: tuple[Check, ...] = (
    *_rows(
        "Satopaa et al. 2011, first example of the open library of that paper: knee about 0.22",
        "published",
        "half a digit",
        ("S95", "knee of -1/(x + 0.1) + 5 at ten even points from 0 to 1, turned over", 0.22,
         0.005, "-",
         lambda: _ACROSS[knee(1.0 / (_ACROSS + 0.1) - 5.0, _ACROSS)]),
    ),
    *_rows(
        "readme of an open library for knees: convex and falling, 12 values at 1 to 12",
        "published",
        "the place itself",
        ("S96", "knee of the 12 values", 4, 0.0, "-",
         lambda: 1 + knee(np.array(_FALLING), np.arange(12.0))),
    ),
    *_rows(
        "100, 160, 190, 205, 212 for 1 to 5, nothing taken that brings less than 10 for 1; by hand",
        "computed",
        "the place itself",
        ("S97", "cost at which to stop", 4, 0.0, "-",
         lambda: 1 + worth_stop(
             -np.array([100.0, 160.0, 190.0, 205.0, 212.0]), np.arange(1.0, 6.0), 0.1)),
    ),
)  # fmt: skip
