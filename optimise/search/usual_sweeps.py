"""Sweeps that say most about a machine when nobody has named any.

The price lists of the two categories of which one part, put on alone, takes most off a piece,
limits aside; and one number that a shop can turn or bore itself, along the span of its price list:
the diameter of the rod or of the bore, whichever is not among these lists, else the one that takes
more off a piece.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import CATEGORIES, take
from optimise.machine.quantities import quantities
from optimise.search.goals import LEAST_GAIN
from optimise.search.sweep import POINTS_ALONE
from optimise.study.dimensions import Dimension
from optimise.study.model import Study
from optimise.study.space import fitted_machine
from optimise.units import convert, show

USUAL_LISTS = 2
"""Price lists that are swept."""
TURNED = (("rod", "diameter"), ("bore", "diameter"))
"""Fields of parts that a shop makes to measure: common practice, no source."""


def gain_of_parts(study: Study, category: str) -> float:
    """Time [s] that the quickest part of a category takes off a piece, put on alone.

    Parts that cross a limit count too. Nothing where no part of it is quicker.
    """
    prices = study.lists[category]
    lanes = np.array([prices.names.index(name) for name in study.allowed[category]], dtype=np.intp)
    parts: dict[str, Any] = {category: take(prices.parts, lanes)}
    machine = fitted_machine(study)
    with np.errstate(all="ignore"):
        before = float(Evaluation(machine, study.setting).split_period)
        changed = dataclasses.replace(machine, **parts)
        periods = np.atleast_1d(Evaluation(changed, study.setting).split_period)
    gains = before - periods[np.isfinite(periods)]
    return max(float(gains.max(initial=0.0)), 0.0) if np.isfinite(before) else 0.0


def usual_dimensions(study: Study) -> list[Dimension]:
    """Dimensions of the usual sweeps, one each."""
    gains = {category: gain_of_parts(study, category) for category in study.lists}
    named = sorted(
        (category for category in gains if gains[category] > LEAST_GAIN),
        key=lambda category: -gains[category],
    )[:USUAL_LISTS]
    found = [Dimension(category, category, study.allowed[category]) for category in named]
    turned = sorted(TURNED, key=lambda one: (one[0] in named, -gains[one[0]]))
    numbers = (_along_the_list(study, category, field) for category, field in turned)
    return [*found, *[one for one in numbers if one is not None][:1]]


def _along_the_list(study: Study, category: str, field: str) -> Dimension | None:
    """A number of a part over the span of its price list; None where that has one value only."""
    prices = study.lists[category]
    column = np.asarray(getattr(prices.parts, field), dtype=np.float64)
    known = column[[prices.names.index(name) for name in study.allowed[category]]]
    low, high = float(known.min()), float(known.max())
    if high <= low:
        return None
    spec = quantities(CATEGORIES[category])[field]
    key, system = f"{category}.{field}", study.system
    ends = f"{convert(low, spec.kind, system):.6g}..{show(high, spec.kind, system, 6)}"
    values = np.linspace(low, high, POINTS_ALONE)
    return Dimension(f"{key}={ends}", key, values=values, spec=spec)
