"""The wood mix, reduced to a few force levels of equal travel that keep its work per piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.columns import Array, Column
from optimise.machine.setting import Log, Setting
from optimise.normal import point_at, share_below

LEVELS = 12
"""The stage of the pump is one for a whole level, so a level that straddles the shift is timed
wrong. Loaded cycle time against 300 levels, 500 machines drawn from each demonstration's lists:
3 levels err by 3 % in the middle and 9 % at the 95 % point, 6 by 1.2 % and 4 %, 12 by 0.7 % and
1.9 %. What a single part takes off a piece errs by up to 1.1 s with 6 levels on the demonstrations,
0.35 s with 12; 19 in 20 parts by under 0.2 s. The front of alder-yard with its chances took 4.9 s
of processor time with 6 and 7.4 s with 12.
"""
_STATIONS = 16
_QUANTILES = 7


@dataclass(frozen=True)
class WorkLevels:
    """Mean loaded stroke of the mix.

    Attributes
    ----------
    loaded_share
        Share of the stroke against resistance, mean over the pieces.
    forces
        Force [N] of each level; every level takes the same share of the loaded travel.
    """

    loaded_share: float
    forces: tuple[float, ...]

    def work(self, stroke: float) -> float:
        """Work on the wood per piece [J] over a stroke [m]."""
        return stroke * self.loaded_share * sum(self.forces) / len(self.forces)


def profile(log: Log, along: Column) -> Array:
    """Force over the peak of its log at a share ``along`` of the loaded travel, 0 to 1.

    The wedge meets the peak as it enters; then the split runs ahead of it and the force falls to
    the end share. ``log.fall`` bends the fall: measured on small specimens the force drops soon
    after the entry and stays nearly level from there, the more so with a blunt wedge (Ennos and
    Ventura Oliveira 2017, EXARC; the shape only, sizes and numbers of this model are assumed).

    Examples
    --------
    >>> log = Log(name="oak", share=1.0, peak_force=90e3, end_share=0.2, fall=2.0)
    >>> [round(float(profile(log, along)), 3) for along in (0.0, 0.5, 1.0)]
    [1.0, 0.4, 0.2]
    """
    left = np.maximum(1.0 - np.asarray(along, dtype=np.float64), 0.0)
    return log.end_share + (1.0 - log.end_share) * left**log.fall


def _samples(log: Log) -> tuple[Array, Array]:
    """Forces and travel weights of one class: normal peaks, each falling along the profile."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(_QUANTILES)
    peaks = np.maximum(log.peak_force * (1.0 + log.spread * nodes), 0.0)
    stations, lengths = np.polynomial.legendre.leggauss(_STATIONS)
    forces = peaks[:, None] * profile(log, 0.5 * (1.0 + stations))[None, :]
    spread = (weights / weights.sum())[:, None] * (0.5 * lengths)[None, :]
    return forces.ravel(), log.share * log.loaded_travel * spread.ravel()


def work_levels(wood: tuple[Log, ...], levels: int = LEVELS) -> WorkLevels:
    """Reduce a mix to ``levels`` forces, each the mean of an equal share of the loaded travel.

    The share of a class counts against the sum of all shares.
    """
    pairs = [_samples(log) for log in wood]
    forces = np.concatenate([pair[0] for pair in pairs])
    weights = np.concatenate([pair[1] for pair in pairs]) / sum(log.share for log in wood)
    order = np.argsort(forces, kind="stable")
    travel = np.concatenate([[0.0], np.cumsum(weights[order])])
    work = np.concatenate([[0.0], np.cumsum((weights * forces)[order])])
    edges = np.interp(np.linspace(0.0, travel[-1], levels + 1), travel, work)
    means = np.diff(edges) * levels / travel[-1]
    return WorkLevels(float(travel[-1]), tuple(float(mean) for mean in means))


def levels_of(setting: Setting) -> WorkLevels:
    """Mix that the wedge of a setting meets, reduced."""
    return work_levels(setting.met_wood, LEVELS)


def force_to_split(log: Log, unsplit: float) -> float:
    """Force [N] that splits all pieces of a class but a share above 0: :func:`unsplit_share` back.

    Parameters
    ----------
    log
        Class of logs, peak forces normal.
    unsplit
        Share of its pieces that may stop the ram.
    """
    return float(log.peak_force * (1.0 - log.spread * point_at(unsplit)))


def unsplit_share(wood: tuple[Log, ...], force: Column) -> Column:
    """Share of the pieces whose peak force is over ``force`` [N], normal in each class."""
    total = sum(log.share for log in wood)
    missed: Column = 0.0
    for log in wood:
        spread = max(log.spread, 1e-9) * log.peak_force
        missed = missed + log.share / total * share_below((log.peak_force - force) / spread)
    return missed
