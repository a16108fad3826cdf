"""Force of a log against the travel of the ram, in levels that the simulation can stop at."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimise.machine.wood import WorkLevels

RAMP = 0.25
"""Share of the travel of a level of the mean loaded stroke over which the force reaches it."""


@dataclass(frozen=True)
class ForceLevels:
    """Force on the wood against travel in steps, so that the solver can stop at each.

    Attributes
    ----------
    edges
        Travel [m] at which each force begins, rising; no force before the first.
    forces
        Force [N] from that edge to the next.
    ramp
        Travel [m] behind each edge over which the force goes straight to its new value. Wood does
        not let go in a step, and a step would make the pressure swing enough to move the unloader.
    """

    edges: tuple[float, ...]
    forces: tuple[float, ...]
    ramp: float = 0.0

    def __call__(self, travel: float) -> float:
        """Force [N] at a travel [m]."""
        passed = sum(edge <= travel for edge in self.edges)
        if not passed:
            return 0.0
        before = self.forces[passed - 2] if passed > 1 else 0.0
        since = travel - self.edges[passed - 1]
        share = min(since / self.ramp, 1.0) if self.ramp > 0.0 else 1.0
        return before + share * (self.forces[passed - 1] - before)


def mix_profile(
    levels: WorkLevels,
    stroke: float,
    largest_force: float = math.inf,
    ramp_share: float = RAMP,
) -> ForceLevels:
    """Mean loaded stroke of the wood mix: the free travel, then its levels, the hardest first.

    Parameters
    ----------
    levels
        The mix, from ``work_levels``.
    stroke
        m.
    largest_force
        N; a level over it is met with this force.
    ramp_share
        Share of the travel of a level over which the force reaches it; steps where 0.
    """
    each = stroke * levels.loaded_share / len(levels.forces)
    free = stroke * (1.0 - levels.loaded_share)
    ramp = ramp_share * each
    edges = tuple(max(free + nth * each - 0.5 * ramp, 0.0) for nth in range(len(levels.forces)))
    hardest_first = sorted(levels.forces, reverse=True)
    return ForceLevels(edges, tuple(min(force, largest_force) for force in hardest_first), ramp)
