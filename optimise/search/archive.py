"""Machines found so far, kept as one time-cost staircase per force, and asked who is beaten."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array

TIME_SLACK = 1e-9
"""Relative error that a bound on the cycle time may have from the flow solve."""


def not_dominated(points: Array) -> NDArray[np.bool_]:
    """Mask of the points, smaller is better, that no other point beats; equal points stay.

    Parameters
    ----------
    points
        Shape (n, objectives), finite.
    """
    if len(points) == 0:
        return np.zeros(0, dtype=np.bool_)
    import moocore  # noqa: PLC0415

    mask: NDArray[np.bool_] = moocore.is_nondominated(points, maximise=False, keep_weakly=True)
    return mask


class Archive:
    """Non-dominated (time, force, cost) points; smaller is better in all, so force is negative."""

    def __init__(self) -> None:
        self.points: Array = np.zeros((0, 3))
        self._forces: Array = np.zeros(0)
        self._times: list[Array] = []
        self._costs: list[Array] = []

    def add(self, points: Array) -> None:
        """Take points of shape (n, 3) in and drop what is beaten."""
        both = np.unique(np.concatenate([self.points, points]), axis=0)
        self.points = both[not_dominated(both)]
        self._forces = np.unique(self.points[:, 1])
        self._times, self._costs = [], []
        for force in self._forces:
            strong = self.points[self.points[:, 1] <= force]
            order = np.lexsort((strong[:, 2], strong[:, 0]))
            self._times.append(strong[order, 0])
            self._costs.append(np.minimum.accumulate(strong[order, 2]))

    def beats(self, times: Array, forces: Array, costs: Array) -> NDArray[np.bool_]:
        """Mask of the bounds that some point beats strictly in time and not less in the rest."""
        beaten = np.zeros(times.shape, dtype=np.bool_)
        if len(self._forces) == 0:
            return beaten
        steps = np.searchsorted(self._forces, forces, side="right") - 1
        quick = times * (1.0 - TIME_SLACK)
        for step in np.unique(steps[steps >= 0]):
            here = np.flatnonzero(steps == step)
            place = np.searchsorted(self._times[step], quick[here], side="left") - 1
            some = place >= 0
            beaten[here[some]] = self._costs[step][place[some]] <= costs[here[some]]
        return beaten
