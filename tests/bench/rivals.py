"""The exact front against sampling searches of general libraries, at equal time and at equal work.

Each search runs again with other seeds: the best and the worst are told. Time is that of the
processor, which on an idle machine is wall time; a busy one takes nothing from a search.
"""

from __future__ import annotations

import contextlib
import time
import warnings
from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

import moocore
import numpy as np

from optimise.columns import Array
from optimise.machine.limits import limits_of
from optimise.machine.readings import Readings
from optimise.machine.wood import levels_of
from optimise.search.archive import not_dominated
from optimise.search.exact import exact_front
from optimise.search.goals import STANDARD, as_points
from tests.bench.common import Row, problem

POPULATION = 500
SEEDS = (1, 2, 3)
LONGEST = 120.0
"""Processor time [s] at most of a search that gets a number of machines."""
BARRED = 1e6
"""Constraint of a machine whose margin is unknown."""


class _SpentError(Exception):
    """All that a search was given is spent."""


class Judge:
    """Evaluates machines of a problem while time and number allow, and keeps the feasible ones."""

    def __init__(self, name: str, seconds: float, most: int | None) -> None:
        self.space, self.setting = problem(name)
        self.levels = levels_of(self.setting)
        self.hard = [limit for limit in limits_of(self.setting) if limit.kind == "hard"]
        self.asked = Readings([*STANDARD.readings, *(limit.margin for limit in self.hard)])
        self.end = time.process_time() + seconds
        self.most = most
        self.evaluated = 0
        self.points: Array = np.zeros((0, 3))

    def __call__(self, rows: Any) -> tuple[Array, Array]:
        """Objectives (n, 3) and constraints (n, limits), at most 0 where kept."""
        spent = self.most is not None and self.evaluated + len(rows) > self.most
        if spent or time.process_time() > self.end:
            raise _SpentError
        rows = np.asarray(rows, dtype=np.intp)
        with np.errstate(all="ignore"):
            found = self.asked.of(self.space.machine(rows), self.setting, self.levels)
            points = as_points(found[:3])
            margins = [np.broadcast_to(one, (len(rows),)) for one in found[3:]]
        over = -np.stack(margins, axis=1)
        over = np.where(np.isfinite(over), over, BARRED)
        points = np.where(np.isfinite(points), points, BARRED)
        kept = (over <= 0.0).all(axis=1)
        found = np.unique(np.concatenate([self.points, points[kept]]), axis=0)
        self.points = found[not_dominated(found)] if len(found) else found
        self.evaluated += len(rows)
        return points, over


_Search: TypeAlias = Callable[[Judge, int], None]
"""A search from a seed, until its judge has enough."""


def rivals(name: str, seconds: float | None) -> Iterator[Row]:
    """Share of the exact hypervolume and members found by each search.

    Parameters
    ----------
    name
        Demonstration study.
    seconds
        Processor time of a search; None gives it as many machines as the exact search works out
        whole, and :data:`LONGEST` at most.
    """
    space, setting = problem(name)
    start = time.process_time()
    exact = exact_front(space, setting)
    points = exact.designs.points
    spent = time.process_time() - start
    worst = points.max(axis=0) + 0.1 * np.ptp(points, axis=0)
    group = f"{name}: {exact.evaluated:,} machines" if seconds is None else f"{name}: {seconds:g} s"
    whole = moocore.hypervolume(points, ref=worst)
    members = {tuple(point) for point in points}
    note = f"in {spent:.2f} s, all members, {exact.evaluated:,} machines worked out"
    yield Row(group, "exact", 1.0, "of the hypervolume", 1.0, note)
    for what, search in _searches().items():
        judged = []
        for seed in SEEDS:
            most = exact.evaluated if seconds is None else None
            judge = Judge(name, LONGEST if seconds is None else seconds, most)
            with contextlib.suppress(_SpentError):
                search(judge, seed)
            judged.append(judge)
        shares = [_share(judge.points, worst) / whole for judge in judged]
        found = [sum(tuple(point) in members for point in judge.points) for judge in judged]
        worked = " / ".join(f"{judge.evaluated:,}" for judge in judged)
        note = (
            f"best of {len(SEEDS)} seeds, the least {min(shares):.4f}; {max(found):,} of "
            f"{len(members):,} members at most; {worked} machines worked out"
        )
        yield Row(group, what, max(shares), "of the hypervolume", max(shares), note)


def _share(points: Array, worst: Array) -> float:
    inside = points[(points < worst).all(axis=1)]
    return float(moocore.hypervolume(inside, ref=worst)) if len(inside) else 0.0


def _searches() -> dict[str, _Search]:
    return {"pymoo NSGA-II": _pymoo, **dict(_optuna_searches())}


def _pymoo(judge: Judge, seed: int) -> None:
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.core.problem import Problem
    from pymoo.core.termination import NoTermination
    from pymoo.operators.crossover.sbx import SBX
    from pymoo.operators.mutation.pm import PM
    from pymoo.operators.repair.rounding import RoundingRepair
    from pymoo.operators.sampling.rnd import IntegerRandomSampling
    from pymoo.optimize import minimize

    class Splitter(Problem):  # type: ignore[misc]
        def __init__(self) -> None:
            sizes = np.array(judge.space.sizes)
            super().__init__(
                n_var=len(sizes),
                n_obj=3,
                n_ieq_constr=len(judge.hard),
                xl=np.zeros(len(sizes)),
                xu=sizes - 1,
                vtype=int,
            )

        def _evaluate(self, x: Any, out: dict[str, Any], *_: Any, **__: Any) -> None:
            out["F"], out["G"] = judge(x)

    algorithm = NSGA2(
        pop_size=POPULATION,
        sampling=IntegerRandomSampling(),
        crossover=SBX(vtype=float, repair=RoundingRepair()),
        mutation=PM(vtype=float, repair=RoundingRepair()),
        eliminate_duplicates=True,
    )
    minimize(Splitter(), algorithm, NoTermination(), seed=seed, verbose=False)


def _optuna_searches() -> Iterator[tuple[str, _Search]]:
    import optuna

    optuna.logging.set_verbosity(optuna.logging.ERROR)
    for sampler in ("NSGAIISampler", "NSGAIIISampler", "TPESampler"):

        def search(judge: Judge, seed: int, sampler: str = sampler) -> None:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                _optuna(judge, getattr(optuna.samplers, sampler)(seed=seed))

        yield f"Optuna {sampler.removesuffix('Sampler')}", search


def _optuna(judge: Judge, sampler: Any) -> None:
    import optuna

    study = optuna.create_study(directions=["minimize"] * 3, sampler=sampler)
    batch = 50
    while True:
        trials = [study.ask() for _ in range(batch)]
        rows = [
            [
                trial.suggest_int(category, 0, size - 1)
                for category, size in zip(judge.space.categories, judge.space.sizes, strict=True)
            ]
            for trial in trials
        ]
        points, over = judge(rows)
        for trial, point, crossed in zip(trials, points, over, strict=True):
            trial.set_constraint("limits", float(np.maximum(crossed, 0.0).sum()))
            study.tell(trial, point.tolist())
