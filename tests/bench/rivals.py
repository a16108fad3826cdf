"""The exact front against sampling searches of general libraries, at equal wall time."""

from __future__ import annotations

import time
import warnings
from collections.abc import Iterator
from typing import Any

import moocore
import numpy as np

from optimise.columns import Array
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import limits_of
from optimise.machine.wood import levels_of
from optimise.search.archive import not_dominated
from optimise.search.exact import exact_front
from optimise.search.goals import STANDARD
from tests.bench.common import Row, problem

POPULATION = 500
BARRED = 1e6
"""Constraint of a machine whose margin is unknown."""


class Judge:
    """Evaluates machines of a problem and keeps the feasible ones."""

    def __init__(self, name: str) -> None:
        self.space, self.setting = problem(name)
        self.levels = levels_of(self.setting)
        self.hard = [limit for limit in limits_of(self.setting) if limit.kind == "hard"]
        self.evaluated = 0
        self.points: Array = np.zeros((0, 3))

    def __call__(self, rows: Any) -> tuple[Array, Array]:
        """Objectives (n, 3) and constraints (n, limits), at most 0 where kept."""
        rows = np.asarray(rows, dtype=np.intp)
        with np.errstate(all="ignore"):
            evaluation = Evaluation(self.space.machine(rows), self.setting, self.levels)
            points = STANDARD.points(evaluation)
            margins = [np.broadcast_to(one.margin(evaluation), (len(rows),)) for one in self.hard]
        over = -np.stack(margins, axis=1)
        over = np.where(np.isfinite(over), over, BARRED)
        points = np.where(np.isfinite(points), points, BARRED)
        kept = (over <= 0.0).all(axis=1)
        found = np.unique(np.concatenate([self.points, points[kept]]), axis=0)
        self.points = found[not_dominated(found)] if len(found) else found
        self.evaluated += len(rows)
        return points, over


def rivals(name: str, limit: float) -> Iterator[Row]:
    """Share of the exact hypervolume and members found, each search within ``limit`` seconds."""
    space, setting = problem(name)
    start = time.perf_counter()
    exact = exact_front(space, setting).designs.points
    spent = time.perf_counter() - start
    worst = exact.max(axis=0) + 0.1 * np.ptp(exact, axis=0)
    group = f"{name}: {limit:g} s"
    whole = moocore.hypervolume(exact, ref=worst)
    members = {tuple(point) for point in exact}
    yield Row(group, "exact", 1.0, "of the hypervolume", 1.0, f"in {spent:.2f} s, all members")
    for what, search in (("pymoo NSGA-II", _pymoo), *_optuna_searches()):
        judge = Judge(name)
        search(judge, limit)
        points = judge.points[(judge.points < worst).all(axis=1)]
        share = moocore.hypervolume(points, ref=worst) / whole if len(points) else 0.0
        found = sum(tuple(point) in members for point in points)
        note = f"{found:,} of {len(members):,} members, {judge.evaluated:,} machines worked out"
        yield Row(group, what, float(share), "of the hypervolume", float(share), note)


def _pymoo(judge: Judge, limit: float) -> None:
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.core.problem import Problem
    from pymoo.operators.crossover.sbx import SBX
    from pymoo.operators.mutation.pm import PM
    from pymoo.operators.repair.rounding import RoundingRepair
    from pymoo.operators.sampling.rnd import IntegerRandomSampling
    from pymoo.optimize import minimize
    from pymoo.termination import get_termination

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
    seconds = time.strftime("%H:%M:%S", time.gmtime(limit))
    minimize(Splitter(), algorithm, get_termination("time", seconds), seed=1, verbose=False)


def _optuna_searches() -> Iterator[tuple[str, Any]]:
    import optuna

    optuna.logging.set_verbosity(optuna.logging.ERROR)
    for sampler in ("NSGAIISampler", "NSGAIIISampler", "TPESampler"):

        def search(judge: Judge, limit: float, sampler: str = sampler) -> None:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                _optuna(judge, limit, getattr(optuna.samplers, sampler)(seed=1))

        yield f"Optuna {sampler.removesuffix('Sampler')}", search


def _optuna(judge: Judge, limit: float, sampler: Any) -> None:
    import optuna

    study = optuna.create_study(directions=["minimize"] * 3, sampler=sampler)
    end = time.perf_counter() + limit
    batch = 50
    while time.perf_counter() < end:
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
