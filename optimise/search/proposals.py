"""Ask Optuna for designs and tell it what became of them.

A search in a store may be gone on with later, and by several processes and computers at a time:
each takes over what others have worked out before it asks again, and finishes what one that died
had been given. What a design is proposed with hangs on its number, of which each is given out once.
"""

from __future__ import annotations

import hashlib
import json
import warnings
from collections.abc import Callable, Sequence
from functools import partial
from importlib import import_module
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.errors import CallError, shown
from optimise.search.judge import Judge
from optimise.search.stores import Store
from optimise.study.made_to_order import MadeToOrder, ranges_noted, ranges_told

Sampler = Literal["nsga2", "nsga3", "gp"]
CLOSEST = "closest_limit"
"""Constraint in place of all: a Gaussian process is fitted to each, for every design proposed."""
_Answer = TypeVar("_Answer")


class Proposals:
    """Designs that a sampler proposes.

    Parameters
    ----------
    judge
        Works them out.
    sampler, population, seed
        How they are proposed.
    place
        Store of the search: a file, the URL of a database, or None for memory.

    Raises
    ------
    CallError
        The library is not installed, or the store cannot be used or holds another question.
    """

    def __init__(
        self,
        made: MadeToOrder,
        judge: Judge,
        sampler: Sampler,
        population: int,
        seed: int,
        place: str | None,
    ) -> None:
        self.made, self.judge, self.population = made, judge, population
        self.optuna = _library()
        self.closest_only = sampler == "gp"
        self.free = [one.key for one in made.free]
        self.chosen = {
            category: names
            for category, names in zip(
                made.space.categories, (one.names for one in made.space.lists), strict=True
            )
            if len(names) > 1
        }
        found = self.optuna.distributions
        self.distributions = {
            **{
                category: found.CategoricalDistribution(names)
                for category, names in self.chosen.items()
            },
            **{
                key: found.FloatDistribution(float(low), float(high))
                for key, low, high in zip(self.free, made.low, made.high, strict=True)
            },
        }
        self.seen: set[int] = set()
        self.store = None if place is None else Store(self.optuna, place)
        try:
            self.search = self._opened()
        except BaseException:
            self.close()
            raise
        self.search.sampler = _numbered(self.optuna, sampler, population, seed, self.distributions)

    def _question(self) -> dict[str, str]:
        return {
            "study": self.made.study.fingerprint,
            "ranges": ranges_noted(self.made),
            "lists": hashlib.sha256(
                json.dumps([one.names for one in self.made.space.lists]).encode()
            ).hexdigest(),
            "goals": " ".join(self.judge.goals.keys),
            **({"sampler": "gp"} if self.closest_only else {}),
        }

    def _opened(self) -> Any:
        goals = ["minimize"] * len(self.judge.goals.keys)
        if self.store is None:
            self.founder = True
            return self.optuna.create_study(directions=goals)
        store = self.store
        search, self.founder = store.opened(goals)
        asked = store.attribute(search, "question", wait=not self.founder)
        if asked is None:
            store.kept(partial(search.set_user_attr, "question", self._question()))
            store.kept(partial(search.set_metric_names, list(self.judge.goals.keys)))
        elif asked != self._question():
            here = self._question()
            changed = [name for name in {**here, **asked} if asked.get(name) != here.get(name)]
            held = " and ".join(self._held(name, str(asked.get(name))) for name in changed)
            raise CallError(
                f"{store.shown}: holds a search with {held}; name another store, or ask as before"
            )
        return search

    def _held(self, name: str, noted: str) -> str:
        """What a store holds instead of what is asked for."""
        if name == "ranges":
            return f"other ranges ({shown(ranges_told(noted, self.made.study.system), None)})"
        if name == "goals":
            return f"other goals ({shown(', '.join(noted.split()))})"
        return {"lists": "other price lists"}.get(name, f"another {name}")

    def _design(self, params: dict[str, Any]) -> tuple[NDArray[np.intp], Array]:
        row = [
            self.chosen[category].index(params[category]) if category in self.chosen else 0
            for category in self.made.space.categories
        ]
        return np.array(row, dtype=np.intp), np.array([float(params[key]) for key in self.free])

    def close(self) -> None:
        """Close the store."""
        if self.store is not None:
            self.store.close()

    def _kept(self, call: Callable[[], _Answer]) -> _Answer:
        return call() if self.store is None else self.store.kept(call)

    def _trials(self, *states: str) -> list[Any]:
        wanted = tuple(getattr(self.optuna.trial.TrialState, state) for state in states)
        found: list[Any] = self._kept(
            partial(self.search.get_trials, deepcopy=False, states=wanted)
        )
        return found

    def recall(self) -> None:
        """Take over what a stored search has worked out, by this process or others."""
        if self.store is None:
            return
        done = [trial for trial in self._trials("COMPLETE") if trial.number not in self.seen]
        if not done:
            return
        designs = [self._design(trial.params) for trial in done]
        rows, numbers = (np.stack(column) for column in zip(*designs, strict=True))
        points = np.array([trial.values for trial in done])
        over = np.array(
            [
                [
                    trial.constraints.get(CLOSEST if self.closest_only else limit.name, 0.0)
                    for limit in self.judge.hard
                ]
                for trial in done
            ]
        )
        self.judge.remember(rows, numbers, points, over)
        self.seen |= {trial.number for trial in done}

    def finish_others(self) -> None:
        """Work out what somebody was given and has not told, who may have died.

        Who has not died tells the same.
        """
        if self.store is None:
            return
        given = [
            trial
            for trial in self._trials("RUNNING")
            if set(self.distributions) <= set(trial.params)
        ]
        if given:
            kind = self.optuna.trial.Trial
            self._tell(given, [kind(self.search, trial._trial_id) for trial in given])

    def begin_with(self, seeds: tuple[NDArray[np.intp], Array]) -> None:
        """Propose some of the front of the lists first, evenly along it."""
        rows, numbers = seeds
        kept = self.store
        if kept is not None and kept.attribute(self.search, "begun", wait=not self.founder):
            return
        count = min(self.population, len(rows))
        for at in np.unique(np.linspace(0, len(rows) - 1, count).astype(int)):
            params = {
                **{
                    category: names[rows[at, self.made.space.categories.index(category)]]
                    for category, names in self.chosen.items()
                },
                **dict(zip(self.free, map(float, numbers[at]), strict=True)),
            }
            enqueue = partial(self.search.enqueue_trial, params, skip_if_exists=kept is not None)
            self._kept(enqueue)
        self._kept(partial(self.search.set_user_attr, "begun", True))

    def generation(self, most: int) -> int:
        """Ask for a generation, work it out as columns and tell; how many there were."""
        self.recall()
        ask = partial(self.search.ask, self.distributions)
        asked = [self._kept(ask) for _ in range(min(self.population, most))]
        self._tell(asked, asked)
        return len(asked)

    def _tell(self, given: Sequence[Any], trials: Sequence[Any]) -> None:
        designs = [self._design(trial.params) for trial in given]
        points, over = self.judge(
            np.stack([row for row, _ in designs]), np.stack([numbers for _, numbers in designs])
        )
        for trial, point, some in zip(trials, points, over, strict=True):
            self._kept(partial(self._tell_one, trial, point, some))
            self.seen.add(trial.number)

    def _constraints(self, over: Array) -> dict[str, float]:
        """Crossings by limit: the closest and all crossed, as a store writes each by itself."""
        if self.closest_only:
            return {CLOSEST: float(over.max())}
        told = {int(over.argmax()), *np.flatnonzero(over > 0.0).tolist()}
        return {self.judge.hard[nth].name: float(over[nth]) for nth in sorted(told)}

    def _tell_one(self, trial: Any, point: Array, over: Array) -> None:
        """Tell what became of a design; a second time, or after another, changes nothing."""
        if trial.number in self.seen:
            return
        try:
            for name, value in self._constraints(over).items():
                trial.set_constraint(name, value)
            self.search.tell(trial, [float(value) for value in point], skip_if_finished=True)
        except self.optuna.exceptions.UpdateFinishedTrialError:
            return


def _numbered(
    optuna: Any, sampler: Sampler, population: int, seed: int, space: dict[str, Any]
) -> Any:
    """Sampler whose chance hangs on the number of the design that is asked for."""
    found = optuna.samplers
    kinds = {
        "nsga2": partial(found.NSGAIISampler, population_size=population),
        "nsga3": partial(found.NSGAIIISampler, population_size=population),
        "gp": partial(found.GPSampler, n_startup_trials=population, deterministic_objective=True),
    }
    if sampler == "gp":
        _needed("torch", "--sampler gp", "gp")

    class Numbered(found.BaseSampler):  # type: ignore[misc, name-defined]
        number, inner = -1, None

        def of(self, trial: Any) -> Any:
            if trial.number != self.number:
                chance = np.random.SeedSequence([seed, trial.number]).generate_state(1)
                self.number = trial.number
                self.inner = kinds[sampler](seed=int(chance[0]))
            return self.inner

        def infer_relative_search_space(self, study: Any, trial: Any) -> Any:
            return space

        def sample_relative(self, study: Any, trial: Any, search_space: Any) -> Any:
            return self.of(trial).sample_relative(study, trial, search_space)

        def sample_independent(self, study: Any, trial: Any, name: str, values: Any) -> Any:
            return self.of(trial).sample_independent(study, trial, name, values)

    return Numbered()


def _library() -> Any:
    optuna = _needed("optuna", "a search with ranges", "ranges")
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
    return optuna


def _needed(library: str, what: str, extra: str) -> Any:
    try:
        return import_module(library)
    except ImportError:
        raise CallError(
            f"{what} needs the library {library}: pip install 'ramfront[{extra}]'"
        ) from None
