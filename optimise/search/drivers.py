"""Where the range of a result comes from: shares of its variance by each thing not known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, shape_of
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.search.draws import even_points
from optimise.search.priors import Belief, FromTheTrade
from optimise.search.unknowns import LANES, Unknowns, with_error

_FLAT = 1e-9


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


def sobol_shares(
    function: Callable[[Array], Array], factors: Sequence[str], count: int, seed: int = 0
) -> Indices:
    """First-order and total Sobol indices of any function of uniform numbers.

    Estimators (b) and (f) of Saltelli et al., Computer Physics Communications 181 (2010), 259,
    table 2. An output that is unknown (NaN) anywhere has unknown shares.

    Parameters
    ----------
    function
        Takes uniform numbers of shape (factors, n), gives outputs of shape (outputs, n).
    factors
        Name of each factor.
    count
        Base points; the function is asked for (factors + 2) times as many.
    """
    size = len(factors)
    points = even_points(2 * size, count, seed)
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
        centred = outputs[:, lively] - outputs[:2, lively].mean(axis=(0, 2))[:, None]
        variance = (centred[:2] ** 2).mean(axis=(0, 2))[:, None]
        moved = (centred[2:] - centred[0]).transpose(1, 0, 2)
        first[lively] = (centred[1][:, None] * moved).mean(axis=2) / variance
        total[lively] = 0.5 * (moved**2).mean(axis=2) / variance
    return Indices(tuple(factors), first, total, constant)


def influences(
    machine: Machine,
    setting: Setting,
    belief: Belief | None = None,
    *,
    keys: Sequence[str] = ("cycle.total_s",),
    count: int = 256,
    seed: int = 0,
) -> Indices:
    """Where the range of each result comes from, for one machine.

    Constants that were fitted together count as one factor, because they hang together. Arguments
    as for :func:`~optimise.search.uncertainty.spread_of`; ``count`` is that of
    :func:`sobol_shares`, and the outputs are the ``keys`` in their order.
    """
    if shape_of(machine) != ():
        raise ValueError("influences are of one machine, every field one number")
    unknowns = Unknowns(belief or FromTheTrade(setting.constants))

    def outputs(uniform: Array) -> Array:
        found = np.empty((len(keys), uniform.shape[1]))
        for first in range(0, uniform.shape[1], LANES):
            lanes = slice(first, first + LANES)
            here = uniform[:, lanes]
            errors = unknowns.model_errors(here)
            with np.errstate(all="ignore"):
                evaluation = unknowns.evaluation(machine, setting, here)
                for row, key in enumerate(keys):
                    found[row, lanes] = with_error(evaluation, key, errors)
        return found

    return sobol_shares(outputs, unknowns.names, count, seed)
