"""A front over price lists and free numbers, sampled: no bound can rule out what lies between.

It begins with exact fronts of the lists, with the free numbers held as they are now and at points
of a coarse grid, so the answer is never worse than those. Optuna then proposes designs, a
generation at a time, each worked out as columns, and a design once, however often it is proposed.
That ends when the volume that the front dominates has stopped growing, or after as many designs as
asked for. Last, every design of the front is moved along each free number by ever shorter steps
while that betters it. Nothing is proven.
"""

from __future__ import annotations

import hashlib
import json
import re
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import moocore
import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.limits import Limit, limits_of
from optimise.machine.sheet import Sheet, sheet_of
from optimise.machine.wood import levels_of
from optimise.search.archive import not_dominated
from optimise.search.exact import exact_front
from optimise.search.goals import STANDARD, Goals
from optimise.study.made_to_order import MadeToOrder

Sampler = Literal["nsga2", "nsga3"]
GENERATION = 100
"""Designs that are proposed together."""
MOST_DESIGNS = 3_000
"""Designs that the sampler proposes."""
STARTS = 9
"""Most points of a grid of free numbers at which the lists' exact front is a start."""
SHORTENINGS = 8
"""Halvings of the step along a free number, from half of its range."""
MOST_MOVED = 1_000
"""Designs of the front that are moved at each step: all, or as many evenly along it."""
FLAT_GENERATIONS = 8
FLAT_SHARE = 1e-3
"""Share of the volume that this many generations in a row have to add for the search to go on."""
STORED_NAME = "ramfront"
"""Name of a search in its store."""
BARRED = 1e6
"""Constraint of a design whose margin is unknown: larger than any crossing."""
DIGITS = 9
"""Significant digits to which two free numbers are the same."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Sampled:
    """What the search found.

    Attributes
    ----------
    rows, numbers
        Positions in the lists (n, categories) and free numbers in SI (n, free) of the front, best
        in the first goal first.
    sheet
        Results and limits of the front.
    points
        Its goals (n, goals), smaller better.
    goals, sampler, seed
        As asked for.
    designs
        Designs worked out, each once.
    seeded
        How many designs of fronts of the lists the search began with.
    volume
        Designs worked out and volume dominated after each generation, over that of the start where
        there is one.
    ended
        Why it ended, in words.
    seconds
        Wall time.
    """

    rows: NDArray[np.intp]
    numbers: Array
    sheet: Sheet
    points: Array
    goals: Goals
    sampler: Sampler
    seed: int
    designs: int
    seeded: int
    volume: tuple[tuple[int, float], ...]
    ended: str
    seconds: float


class _Judge:
    """Works designs out, each once, and keeps the front of those that keep every hard limit."""

    def __init__(self, made: MadeToOrder, goals: Goals) -> None:
        self.made, self.goals = made, goals
        self.levels = levels_of(made.study.setting)
        self.hard: tuple[Limit, ...] = tuple(
            limit for limit in limits_of(made.study.setting) if limit.kind == "hard"
        )
        self.known: dict[tuple[float, ...], tuple[Array, Array]] = {}
        self.rows = np.zeros((0, len(made.space.sizes)), dtype=np.intp)
        self.numbers = np.zeros((0, len(made.free)))
        self.points = np.zeros((0, len(goals.keys)))

    def key(self, row: NDArray[np.intp], numbers: Array) -> tuple[float, ...]:
        """What makes a design the same as another."""
        return (*map(float, row), *(float(f"{number:.{DIGITS}g}") for number in numbers))

    def __call__(self, rows: NDArray[np.intp], numbers: Array) -> tuple[Array, Array]:
        """Goals (n, goals) and constraints (n, limits): at most 0 where kept, share of bound."""
        keys = [self.key(row, some) for row, some in zip(rows, numbers, strict=True)]
        fresh = sorted({key: at for at, key in enumerate(keys) if key not in self.known}.values())
        if fresh:
            points, over = self._worked_out(rows[fresh], numbers[fresh])
            for at, point, some in zip(fresh, points, over, strict=True):
                self.known[keys[at]] = (point, some)
            self._keep(rows[fresh], numbers[fresh], points, over)
        found = [self.known[key] for key in keys]
        shapes = (len(found), len(self.goals.keys)), (len(found), len(self.hard))
        return (
            np.array([point for point, _ in found]).reshape(shapes[0]),
            np.array([over for _, over in found]).reshape(shapes[1]),
        )

    def remember(self, rows: NDArray[np.intp], numbers: Array, points: Array, over: Array) -> None:
        """Take designs as worked out elsewhere."""
        for row, some, point, crossing in zip(rows, numbers, points, over, strict=True):
            self.known[self.key(row, some)] = (point, crossing)
        self._keep(rows, numbers, points, over)

    def _worked_out(self, rows: NDArray[np.intp], numbers: Array) -> tuple[Array, Array]:
        machine, setting = self.made.column(rows, numbers)
        with np.errstate(all="ignore"):
            evaluation = Evaluation(machine, setting, self.levels)
            points = np.broadcast_to(
                self.goals.points(evaluation), (len(rows), len(self.goals.keys))
            )
            over = np.stack(
                [np.broadcast_to(-limit.margin(evaluation), len(rows)) for limit in self.hard],
                axis=1,
            )
        unknown = np.asarray(~np.isfinite(points).all(axis=1))
        over = np.where(np.isnan(over) | unknown[:, None], BARRED, np.clip(over, -BARRED, BARRED))
        return np.where(np.isfinite(points), points, BARRED), over

    def _keep(self, rows: NDArray[np.intp], numbers: Array, points: Array, over: Array) -> None:
        kept = (over <= 0.0).all(axis=1)
        points = np.concatenate([self.points, points[kept]])
        front = not_dominated(points)
        self.points = points[front]
        self.rows = np.concatenate([self.rows, rows[kept]])[front]
        self.numbers = np.concatenate([self.numbers, numbers[kept]])[front]


class _Volume:
    """Volume that a front dominates, in ranges of the first front that is not empty."""

    def __init__(self) -> None:
        self.box: tuple[Array, Array] | None = None

    def of(self, points: Array) -> float:
        """Volume up to a tenth of a range beyond the worst of the first front."""
        if len(points) == 0:
            return 0.0
        if self.box is None:
            best, worst = points.min(axis=0), points.max(axis=0)
            unit = np.where(worst > best, worst - best, np.abs(worst) + 1.0)
            self.box = (worst + 0.1 * unit, unit)
        reference, unit = self.box
        scaled = (points - reference) / unit
        inside = scaled[scaled.max(axis=1) < 0.0]
        if len(inside) == 0:
            return 0.0
        return float(moocore.hypervolume(inside, ref=np.zeros(inside.shape[1])))


def sampled_front(
    made: MadeToOrder,
    goals: Goals = STANDARD,
    *,
    sampler: Sampler = "nsga2",
    designs: int = MOST_DESIGNS,
    seed: int = 1,
    store: str | None = None,
    progress: Progress | None = None,
) -> Sampled:
    """Search for the front of a space with free numbers.

    Parameters
    ----------
    designs
        Most designs that the sampler proposes.
    store
        Where the search is kept so that it can go on later: a file (SQLite) or the URL of a
        database. Without one it is kept in memory, which is quicker.

    Raises
    ------
    CallError
        The library that samples is not installed, or the store holds another question.
    """
    started = time.perf_counter()
    judge, volume = _Judge(made, goals), _Volume()
    talk = _Talk(made, judge, sampler, seed, store)
    talk.recall()
    now, *ends = _held(made)
    starts = [_front_at(made, goals, now)]
    course = [(len(starts[0][0]), volume.of(judge(*starts[0])[0]))]
    for nth, values in enumerate(ends):
        if progress is not None:
            progress("fronts of the lists", nth / len(ends))
        starts.append(_front_at(made, goals, values))
        judge(*starts[-1])
    seeds = (
        np.concatenate([rows for rows, _ in starts]),
        np.concatenate([numbers for _, numbers in starts]),
    )
    talk.begin_with(seeds)
    course.append((len(judge.known), volume.of(judge.points)))
    ended = _sample(judge, talk, volume, course, designs, progress)
    _polish(made, judge)
    course.append((len(judge.known), volume.of(judge.points)))
    order = np.lexsort((*judge.numbers.T[::-1], *judge.rows.T[::-1], *judge.points.T[::-1]))
    rows, numbers = judge.rows[order], judge.numbers[order]
    machine, setting = made.column(rows, numbers)
    return Sampled(
        rows,
        numbers,
        sheet_of(machine, setting),
        judge.points[order],
        goals,
        sampler,
        seed,
        len(judge.known),
        len(seeds[0]),
        tuple(course),
        ended,
        time.perf_counter() - started,
    )


def _sample(
    judge: _Judge,
    talk: _Talk,
    volume: _Volume,
    course: list[tuple[int, float]],
    designs: int,
    progress: Progress | None,
) -> str:
    """Let the sampler propose until it is done; say why it is."""
    proposed = idle = 0
    first = len(course) - 1
    while proposed < designs:
        before = len(judge.known)
        proposed += talk.generation(designs - proposed)
        course.append((len(judge.known), volume.of(judge.points)))
        if progress is not None:
            progress(f"{len(judge.known):,} designs", proposed / designs)
        idle = idle + 1 if len(judge.known) == before else 0
        if idle >= FLAT_GENERATIONS:
            return "no new design was proposed any more"
        if _flat(course[first:]):
            return f"{FLAT_GENERATIONS} rounds in a row added next to nothing"
    return f"{designs:,} designs were proposed, as asked for"


def _flat(course: Sequence[tuple[int, float]]) -> bool:
    if len(course) <= FLAT_GENERATIONS:
        return False
    now, before = course[-1][1], course[-1 - FLAT_GENERATIONS][1]
    return now > 0.0 and now - before <= FLAT_SHARE * now


def _held(made: MadeToOrder) -> list[Array]:
    """Values at which the free numbers are held for a start: as now, then an even grid.

    The grid has the most points a side with which it keeps to :data:`STARTS`; where that is under
    two, each number goes to its ends by itself.
    """
    now, low, high = made.numbers_now(), made.low, made.high
    side = int(STARTS ** (1.0 / len(now)) + 1e-9)
    if side >= 2:
        axes = [np.linspace(*ends, side) for ends in zip(low, high, strict=True)]
        held = [now, *np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(now))]
    else:
        place = np.arange(len(now))
        held = [np.where(place == nth, end, now) for nth in place for end in (low, high)]
        held = [now, low, high, *held]
    return list({tuple(values): values for values in held}.values())


def _front_at(made: MadeToOrder, goals: Goals, values: Array) -> tuple[NDArray[np.intp], Array]:
    """Exact front of the lists with the free numbers held."""
    space, setting = made.listed_at(values)
    rows = exact_front(space, setting, None, goals).designs.indices
    return rows, np.tile(values, (len(rows), 1))


def _polish(made: MadeToOrder, judge: _Judge) -> None:
    """Move the designs of the front along each free number by ever shorter steps."""
    span = made.high - made.low
    for halving in range(1, SHORTENINGS + 1):
        for nth in range(len(span)):
            for sign in (-1.0, 1.0):
                count = len(judge.rows)
                if count == 0:
                    return
                some = np.unique(np.linspace(0, count - 1, min(count, MOST_MOVED)).astype(int))
                rows, numbers = judge.rows[some], judge.numbers[some].copy()
                step = sign * span[nth] / 2.0**halving
                numbers[:, nth] = np.clip(numbers[:, nth] + step, made.low[nth], made.high[nth])
                judge(rows, numbers)


class _Talk:
    """Ask Optuna for designs and tell it what became of them."""

    def __init__(
        self, made: MadeToOrder, judge: _Judge, sampler: Sampler, seed: int, store: str | None
    ) -> None:
        self.made, self.judge = made, judge
        self.optuna = _library()
        self.free = [one.key for one in made.free]
        self.chosen = {
            category: names
            for category, names in zip(
                made.space.categories, (one.names for one in made.space.lists), strict=True
            )
            if len(names) > 1
        }
        self.distributions = {
            **{
                category: self.optuna.distributions.CategoricalDistribution(names)
                for category, names in self.chosen.items()
            },
            **{
                key: self.optuna.distributions.FloatDistribution(float(low), float(high))
                for key, low, high in zip(self.free, made.low, made.high, strict=True)
            },
        }
        self.search = self._opened(store)
        tried = len(self.search.get_trials(deepcopy=False))
        # The same seed would propose the same designs again.
        self.search.sampler = self._sampler(sampler, seed + tried)

    def _sampler(self, sampler: Sampler, seed: int) -> Any:
        found = self.optuna.samplers
        kind = found.NSGAIISampler if sampler == "nsga2" else found.NSGAIIISampler
        return kind(population_size=GENERATION, seed=seed)

    def _question(self) -> dict[str, str]:
        return {
            "study": self.made.study.fingerprint,
            "ranges": " ".join(
                f"{one.key}={low!r}..{high!r}"
                for one, low, high in zip(
                    self.made.free, self.made.low, self.made.high, strict=True
                )
            ),
            "lists": hashlib.sha256(
                json.dumps([one.names for one in self.made.space.lists]).encode()
            ).hexdigest(),
            "goals": " ".join(self.judge.goals.keys),
        }

    def _opened(self, store: str | None) -> Any:
        create = self.optuna.create_study
        goals = ["minimize"] * len(self.judge.goals.keys)
        if store is None:
            return create(directions=goals)
        url = store if "://" in store else f"sqlite:///{Path(store).absolute()}"
        from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

        try:
            study = create(
                directions=goals, storage=url, study_name=STORED_NAME, load_if_exists=True
            )
            asked = study.user_attrs.get("question")
            if asked is None:
                study.set_user_attr("question", self._question())
                study.set_metric_names(list(self.judge.goals.keys))
        except (SQLAlchemyError, self.optuna.exceptions.OptunaError, ImportError) as error:
            reason = str(error).splitlines()[0].replace(store, _masked(store))
            raise CallError(f"--store {_masked(store)}: cannot be used: {reason}") from error
        if asked is not None and asked != self._question():
            changed = [name for name, text in self._question().items() if asked.get(name) != text]
            raise CallError(
                f"--store {_masked(store)}: holds a search with another "
                f"{' and other '.join(changed)}; name another store, or ask as before"
            )
        return study

    def _design(self, params: dict[str, Any]) -> tuple[NDArray[np.intp], Array]:
        row = [
            self.chosen[category].index(params[category]) if category in self.chosen else 0
            for category in self.made.space.categories
        ]
        return np.array(row, dtype=np.intp), np.array([float(params[key]) for key in self.free])

    def recall(self) -> None:
        """Take over what a stored search has worked out."""
        done = [
            trial
            for trial in self.search.get_trials(deepcopy=False)
            if trial.state == self.optuna.trial.TrialState.COMPLETE
        ]
        if not done:
            return
        designs = [self._design(trial.params) for trial in done]
        rows, numbers = (np.stack(column) for column in zip(*designs, strict=True))
        points = np.array([trial.values for trial in done])
        over = np.array(
            [
                [trial.constraints.get(limit.name, 0.0) for limit in self.judge.hard]
                for trial in done
            ]
        )
        self.judge.remember(rows, numbers, points, over)

    def begin_with(self, seeds: tuple[NDArray[np.intp], Array]) -> None:
        """Propose some of the front of the lists first, evenly along it."""
        rows, numbers = seeds
        if len(rows) == 0 or self.search.get_trials(deepcopy=False):
            return
        for at in np.unique(np.linspace(0, len(rows) - 1, min(GENERATION, len(rows))).astype(int)):
            self.search.enqueue_trial(
                {
                    **{
                        category: names[rows[at, self.made.space.categories.index(category)]]
                        for category, names in self.chosen.items()
                    },
                    **dict(zip(self.free, map(float, numbers[at]), strict=True)),
                }
            )

    def generation(self, most: int) -> int:
        """Ask for a generation, work it out as columns and tell; how many there were."""
        asked = [self.search.ask(self.distributions) for _ in range(min(GENERATION, most))]
        designs = [self._design(trial.params) for trial in asked]
        points, over = self.judge(
            np.stack([row for row, _ in designs]), np.stack([numbers for _, numbers in designs])
        )
        for trial, point, some in zip(asked, points, over, strict=True):
            # The closest limit and all that are crossed: a store writes each by itself.
            for nth in {int(some.argmax()), *np.flatnonzero(some > 0.0).tolist()}:
                trial.set_constraint(self.judge.hard[nth].name, float(some[nth]))
            self.search.tell(trial, [float(value) for value in point])
        return len(asked)


def _library() -> Any:
    try:
        import optuna  # noqa: PLC0415
    except ImportError:
        raise CallError(
            "a search with ranges needs the library optuna: pip install 'ramfront[ranges]'"
        ) from None
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
    return optuna


def _masked(store: str) -> str:
    """Store without its password."""
    return re.sub(r"(://[^/@:]*):[^@/]*@", r"\1:***@", store)
