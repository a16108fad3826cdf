"""Every result as a range: what constants, tolerances and the model's own error leave open.

Draws are scrambled Sobol points; the same draws stand behind every machine of a column, so that
differences between machines are sharper than each of them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Column, flattened, map_columns, shape_of
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.parts import CATEGORIES, Machine
from optimise.machine.results import result_named
from optimise.machine.setting import Setting
from optimise.machine.wood import WorkLevels, work_levels
from optimise.search.fit import (
    MODEL_ERRORS,
    Belief,
    FromTheTrade,
    normal_of,
    sobol_points,
)
from optimise.study.model import MEASURED_RESULTS

LEVELS = (0.05, 0.50, 0.95)
"""Points of every range."""
KEYS = (
    "cycle.extend_s",
    "cycle.retract_s",
    "cycle.total_s",
    "cycle.loaded_total_s",
    "force_N",
    "work.pieces_per_h",
)
"""Results that are given a range where none are named; none needs the steady oil temperature."""
LANES = 16_384
"""Machines times draws that are evaluated at once: about what stays in cache."""
_FLAT = 1e-9


@dataclass(frozen=True)
class Tolerance:
    """By how much a quantity of a part may differ from its list: evenly spread over a range.

    Where nothing but limits is known, the distribution is rectangular between them (Guide to the
    expression of uncertainty in measurement, JCGM 100:2008, 4.3.7).

    Attributes
    ----------
    name
        Words for it.
    fields
        What it multiplies: ``category.field`` of a part or ``section.field`` of the setting.
    half_width
        Largest deviation either way, as a share.
    reason
        Why so, and who says so.
    on_loss
        Whether it multiplies what an efficiency lacks to 1, instead of the efficiency.
    """

    name: str
    fields: tuple[str, ...]
    half_width: float
    reason: str
    on_loss: bool = False


_RULE = "common practice, no source"

TOLERANCES: tuple[Tolerance, ...] = (
    Tolerance(
        "engine torque",
        ("engine.rated_torque", "engine.peak_torque"),
        0.05,
        "engines of a series and their tune: " + _RULE,
    ),
    Tolerance(
        "governor",
        ("engine.rated_speed", "engine.no_load_speed"),
        0.015,
        "about 50 rpm in 3600, set with a tachometer: " + _RULE,
    ),
    Tolerance(
        "pump leakage",
        ("pump.volumetric_efficiency",),
        0.20,
        "pump against pump of one type, on what the efficiency lacks to 1: " + _RULE,
        on_loss=True,
    ),
    Tolerance(
        "pump friction",
        ("pump.mechanical_efficiency",),
        0.20,
        "pump against pump of one type, on what the efficiency lacks to 1: " + _RULE,
        on_loss=True,
    ),
    Tolerance("shift setting", ("pump.shift_pressure",), 0.05, "spring and seat: " + _RULE),
    Tolerance(
        "relief setting",
        ("valve.relief_pressure",),
        0.03,
        "set by hand with a workshop gauge: " + _RULE,
    ),
    Tolerance(
        "detent setting",
        ("valve.detent_pressure",),
        0.10,
        "set by hand, moves with temperature: " + _RULE,
    ),
    Tolerance(
        "regenerative switch-over",
        ("valve.regen_pressure",),
        0.05,
        "spring and seat: " + _RULE,
    ),
    Tolerance(
        "valve drop",
        ("valve.nominal_drop", "valve.neutral_drop"),
        0.15,
        "read off a maker's chart, spool against spool: " + _RULE,
    ),
    Tolerance(
        "pressure hose bore",
        ("pressure_hose.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "work hose bore",
        ("work_hoses.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "return hose bore",
        ("return_hose.inner_diameter",),
        0.04,
        "range of inner diameters of a size in EN 853, from memory",
    ),
    Tolerance(
        "suction hose bore",
        ("suction_hose.inner_diameter",),
        0.04,
        "as the other hoses: " + _RULE,
    ),
    Tolerance(
        "fitting K factors",
        ("fittings.laminar_k", "fittings.turbulent_k"),
        0.25,
        "scatter between handbooks and between makes: " + _RULE,
    ),
    Tolerance(
        "filter drop",
        ("filter.clean_drop",),
        0.20,
        "element against element, read off a maker's chart: " + _RULE,
    ),
    Tolerance(
        "cooler",
        ("cooler.conductance",),
        0.15,
        "dust and mounting against the maker's chart: " + _RULE,
    ),
    Tolerance(
        "heat coefficient",
        ("tank.heat_coefficient", "frame.other_cooling"),
        0.20,
        "published wall coefficients run from 6 to 24 W/(m2 K) by air; one place known to a "
        "fifth: " + _RULE,
    ),
    Tolerance(
        "idle drag",
        ("frame.idle_drag",),
        0.30,
        "grease, wear and dirt on the slides: " + _RULE,
    ),
    Tolerance(
        "oil viscosity",
        ("oil.viscosity_40", "oil.viscosity_100"),
        0.10,
        "ISO 3448: a grade is its midpoint within 10 %",
    ),
    Tolerance(
        "wood forces",
        ("wood.peak_force",),
        0.20,
        "peak forces of a mix are assumed, not measured: " + _RULE,
    ),
)
"""Tolerances that are drawn, each on its own. The constants carry what is common to all machines,
these what differs from part to part; a part that was on the machine measured is drawn as well, so
that its range is rather too wide than too narrow."""

_OWN_ERRORS = tuple(error for error in MODEL_ERRORS if not error.by_parts)
"""Model errors that no tolerance of a part stands for."""


@dataclass(frozen=True, eq=False)
class Spread:
    """Ranges of a machine, or of a column of machines.

    Attributes
    ----------
    draws
        Number of draws behind each range.
    points
        For each result key its 5, 50 and 95 % points, shape (3,) + the machine's; NaN where some
        draw has no flow balance.
    kept
        For each hard limit the probability of keeping it, in the machine's shape.
    all_kept
        Probability of keeping every hard limit at once.
    """

    draws: int
    points: dict[str, Array]
    kept: dict[str, Array]
    all_kept: Array


@dataclass(frozen=True, eq=False)
class Indices:
    """Share of the variance of each output that comes from each factor.

    Attributes
    ----------
    factors
        Their names.
    first, total
        Of the factor alone, and with all its interactions; shape (outputs, factors).
    constant
        Outputs on which no factor has any effect; their shares are 0.
    """

    factors: tuple[str, ...]
    first: Array
    total: Array
    constant: NDArray[np.bool_]


@dataclass(frozen=True)
class _Layout:
    """Which uniform numbers stand for what."""

    belief: Belief

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each uniform number."""
        return (
            *self.belief.factors,
            *(tolerance.name for tolerance in TOLERANCES),
            *(f"model error, {error.name}" for error in _OWN_ERRORS),
        )

    def split(self, uniform: Array) -> tuple[Array, Array, Array]:
        """Rows of constants, tolerances and model errors."""
        first = len(self.belief.factors)
        second = first + len(TOLERANCES)
        return uniform[:first], uniform[first:second], uniform[second:]


_Change = Callable[[Column], Column]


def _changed(owner: Any, changes: dict[str, _Change]) -> Any:
    return dataclasses.replace(
        owner, **{name: change(getattr(owner, name)) for name, change in changes.items()}
    )


def _change(tolerance: Tolerance, uniform: Array) -> _Change:
    factor = 1.0 + tolerance.half_width * (2.0 * uniform - 1.0)
    if tolerance.on_loss:
        return lambda efficiency: 1.0 - (1.0 - efficiency) * factor
    return lambda value: value * factor


def varied(
    machine: Machine, setting: Setting, uniform: Array
) -> tuple[Machine, Setting, WorkLevels]:
    """Machine, setting and wood with every tolerance drawn.

    Parameters
    ----------
    machine
        Fields that broadcast against shape (n,).
    uniform
        Uniform numbers, one row of shape (n,) for each entry of :data:`TOLERANCES`.
    """
    changes: dict[str, dict[str, _Change]] = {}
    for tolerance, row in zip(TOLERANCES, uniform, strict=True):
        for field in tolerance.fields:
            section, name = field.split(".")
            changes.setdefault(section, {})[name] = _change(tolerance, row)
    parts: dict[str, Any] = {}
    sections: dict[str, Any] = {}
    levels = work_levels(setting.met_wood)
    for section, fields in changes.items():
        if section in CATEGORIES:
            parts[section] = _changed(getattr(machine, section), fields)
        elif section == "wood":
            scaled: Any = tuple(fields["peak_force"](force) for force in levels.forces)
            levels = dataclasses.replace(levels, forces=scaled)
            sections["wood"] = tuple(_changed(log, fields) for log in setting.wood)
        else:
            sections[section] = _changed(getattr(setting, section), fields)
    return (
        dataclasses.replace(machine, **parts),
        dataclasses.replace(setting, **sections),
        levels,
    )


def _evaluation(machine: Machine, setting: Setting, layout: _Layout, uniform: Array) -> Evaluation:
    constants, tolerances, _ = layout.split(uniform)
    drawn = dataclasses.replace(setting, constants=layout.belief.at(constants))
    return Evaluation(*varied(machine, drawn, tolerances))


def _result(evaluation: Evaluation, key: str, errors: Array) -> Column:
    """Result with the model's own error, one row of ``errors`` for each of ``_OWN_ERRORS``."""
    value = result_named(key).reading(evaluation)
    for error, normal in zip(_OWN_ERRORS, errors, strict=True):
        for kind, touched in error.touches.items():
            if MEASURED_RESULTS[kind] == key:
                value = value + error.share * normal * touched(evaluation)
    return value


def _kept(evaluation: Evaluation, limits: Sequence[Limit]) -> Iterator[NDArray[np.bool_]]:
    for limit in limits:
        margin = (limit.screen or limit.margin)(evaluation)
        kept: NDArray[np.bool_] = np.asarray(margin) >= 0.0
        yield kept


def _upright(flat: Machine, rows: slice) -> Machine:
    """Some machines of a flat column, laid along the first axis; draws go along the second."""
    return map_columns(
        flat, lambda column: np.asarray(column)[rows, None] if np.ndim(column) else column
    )


def spread_of(
    machine: Machine,
    setting: Setting,
    belief: Belief | None = None,
    *,
    draws: int = 256,
    seed: int = 0,
    keys: Sequence[str] = KEYS,
) -> Spread:
    """Ranges of results and probabilities of limits.

    Oil temperature counts by the heat balance at its bound, which needs no steady temperature; a
    key or a limit of the study on that temperature itself takes some ten times as long. Times,
    pump pressures and engine speed hold the model's own error too; limits and other results do not.

    Parameters
    ----------
    machine
        One machine or a column of machines.
    setting
        As for :class:`~optimise.machine.evaluation.Evaluation`, numbers only.
    belief
        What is known of the constants: a :class:`~optimise.search.fit.Fit`, or the priors of the
        trade when not given.
    draws
        Number of draws, a power of two.
    seed
        Of the scrambling: the same seed gives the same bytes.
    keys
        Results that are given a range.
    """
    layout = _Layout(belief or FromTheTrade(setting.constants))
    uniform = sobol_points(len(layout.names), draws, seed)
    errors = normal_of(layout.split(uniform)[2])
    limits = [limit for limit in limits_of(setting) if limit.kind == "hard"]
    shape = shape_of(machine)
    flat = flattened(machine, shape)
    count = int(np.prod(shape, dtype=int))
    points = {key: np.full((len(LEVELS), count), np.nan) for key in keys}
    kept = {limit.name: np.full(count, np.nan) for limit in limits}
    all_kept = np.full(count, np.nan)
    step = max(1, LANES // draws)
    for first in range(0, count, step):
        rows = slice(first, min(first + step, count))
        full = (rows.stop - rows.start, draws)
        together = np.ones(full, dtype=np.bool_)
        with np.errstate(all="ignore"):
            evaluation = _evaluation(_upright(flat, rows), setting, layout, uniform)
            for key in keys:
                column = np.broadcast_to(_result(evaluation, key, errors), full)
                points[key][:, rows] = np.quantile(column, LEVELS, axis=1)
            for limit, held in zip(limits, _kept(evaluation, limits), strict=True):
                kept[limit.name][rows] = np.broadcast_to(held, full).mean(axis=1)
                together &= held
        all_kept[rows] = together.mean(axis=1)
    return Spread(
        draws,
        {key: column.reshape(len(LEVELS), *shape) for key, column in points.items()},
        {name: column.reshape(shape) for name, column in kept.items()},
        all_kept.reshape(shape),
    )


def sobol_shares(
    function: Callable[[Array], Array], factors: Sequence[str], count: int, seed: int = 0
) -> Indices:
    """First-order and total Sobol indices of any function of uniform numbers.

    Estimators of Saltelli et al., Computer Physics Communications 181 (2010), 259, as in
    ``scipy.stats.sobol_indices``. An output that is unknown (NaN) anywhere has unknown shares.

    Parameters
    ----------
    function
        Takes uniform numbers of shape (factors, n), gives outputs of shape (outputs, n).
    factors
        Name of each factor.
    count
        Base points, a power of two; the function is asked for (factors + 2) times as many.
    """
    from scipy.stats import sobol_indices  # noqa: PLC0415

    size = len(factors)
    points = sobol_points(2 * size, count, seed)
    one, other = points[:size], points[size:]
    mixed = np.repeat(one[None], size, axis=0)
    for factor in range(size):
        mixed[factor, factor] = other[factor]
    asked = np.concatenate([one[None], other[None], mixed])
    found = function(np.ascontiguousarray(asked.transpose(1, 0, 2).reshape(size, -1)))
    outputs = np.asarray(found, dtype=np.float64).reshape(-1, size + 2, count).transpose(1, 0, 2)
    spread, height = np.ptp(outputs, axis=(0, 2)), np.abs(outputs).max(axis=(0, 2))
    unknown = np.isnan(height)
    constant = ~unknown & (spread <= _FLAT * height)
    first, total = np.zeros((len(height), size)), np.zeros((len(height), size))
    first[unknown], total[unknown] = np.nan, np.nan
    lively = ~(constant | unknown)
    if lively.any():
        shares = sobol_indices(
            func={
                "f_A": outputs[0, lively],
                "f_B": outputs[1, lively],
                "f_AB": outputs[2:, lively],
            },
            n=count,
        )
        first[lively] = np.reshape(shares.first_order, (-1, size))
        total[lively] = np.reshape(shares.total_order, (-1, size))
    return Indices(tuple(factors), first, total, constant)


def influences(
    machine: Machine,
    setting: Setting,
    belief: Belief | None = None,
    *,
    keys: Sequence[str] = ("cycle.total_s",),
    count: int = 512,
    seed: int = 0,
) -> Indices:
    """Where the range of each result comes from, for one machine.

    Constants that were fitted together count as one factor, because they hang together. Arguments
    as for :func:`spread_of`; ``count`` is that of :func:`sobol_shares`, and the outputs are the
    ``keys`` in their order.
    """
    if shape_of(machine) != ():
        raise ValueError("influences are of one machine, every field one number")
    layout = _Layout(belief or FromTheTrade(setting.constants))

    def outputs(uniform: Array) -> Array:
        found = np.empty((len(keys), uniform.shape[1]))
        for first in range(0, uniform.shape[1], LANES):
            lanes = slice(first, first + LANES)
            here = uniform[:, lanes]
            errors = normal_of(layout.split(here)[2])
            with np.errstate(all="ignore"):
                evaluation = _evaluation(machine, setting, layout, here)
                for row, key in enumerate(keys):
                    found[row, lanes] = _result(evaluation, key, errors)
        return found

    return sobol_shares(outputs, layout.names, count, seed)
