"""Line of models for groups of buyers: which machines to build so that they are worth most.

A model sells at its cost, the price of all its parts bought new, with the study's margin on top. A
group of n buyers is served by a model that reaches its force, keeps its cycle time and sells at no
more than it pays at most. What a line is *worth* is, summed over the groups served, what they pay
at most less the cost of the model that serves them, less the cost of each model, less the stock:
so many pieces of each different part, however many models use it. It is the money that shop and
buyers have between them to share; prices only share it out, so it falls when a cost rises, and the
line that is worth most gives each group the cheapest of its models that does, which is what
buyers would choose by themselves.

What is proven, and from what:

1. Let a model m of a best line serve groups S with n buyers, and let h be any feasible machine that
   does for S too. With h in the place of m the line loses n (cost of h - cost of m) at most, and
   at most the stock of the parts in which h differs from m. It gains nothing, so
   n (cost of m - cost of h) <= stock * (price of those parts of h).
2. With h the cheapest machine that does for S, cost of m <= (1 + stock / n) * cost of h. The front
   of cycle time, force and price holds such an h. So the machines inside a window of time, force
   and price for each S hold every model of every best line; ``ExactSearch.within`` finds them all.
3. Rule 1 with the cheapest of them for h thins them out further and drops no best line.
4. The choice among what is left is a whole-number programme, solved to its optimum by HiGHS: one
   variable for each machine and set S that it may serve, one for each part in stock. No two
   variables of one group are chosen together, so a part is in stock where their sum says so.

Where a window holds more machines than can be listed, it is made narrower; the line is then good
but not proven best, and ``gap`` bounds what a better one could be worth more.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, Lanes
from optimise.errors import CallError
from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import take
from optimise.machine.setting import Setting
from optimise.machine.wood import force_to_split
from optimise.physics.work import margin_price
from optimise.search.archive import not_dominated
from optimise.search.brute import Designs
from optimise.search.exact import ExactSearch
from optimise.search.front import Blocking, blocking_of, crossed_by, random_rows
from optimise.search.goals import STANDARD
from optimise.search.problem import Progress
from optimise.study.model import PriceList, Study
from optimise.study.space import Space, searched_space

MOST_MACHINES = 60_000
"""Machines that windows may hold before they are made narrower."""
NARROWER = 0.5
LISTED = 5
"""Sizes of a line of which each is shown with what one more model would bring."""
TOLERANCE = 1e-6
"""Relative difference of worths that counts as none."""
_RIVALS = 40
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Need:
    """What a group of buyers needs, SI: number, force at least, cycle time and price at most."""

    name: str
    number: float
    force: float
    cycle_time: float
    price: float


@dataclass(frozen=True)
class Terms:
    """Share of the price that is margin, pieces of each part in stock, cost of one more model."""

    margin: float
    stock: float
    model_cost: float

    def price(self, cost: float) -> float:
        """Selling price of a model."""
        return float(margin_price(cost, self.margin))

    def highest_cost(self, price: float) -> float:
        """Cost of the dearest model that sells at a price."""
        return price * (1.0 - self.margin)


@dataclass(frozen=True)
class Model:
    """One model of a line: part indices, and positions of the groups it serves."""

    row: tuple[int, ...]
    serves: tuple[int, ...]
    cost: float
    price: float
    cycle_time: float
    force: float


@dataclass(frozen=True)
class Line:
    """Best line of at most so many models, the one that serves most buyers first.

    Attributes
    ----------
    most
        Models allowed.
    worth
        What shop and buyers have between them.
    contribution
        What of it is the shop's at prices with the study's margin.
    stock_cost, shared_saving
        Price of the stock, and what more it would be if no model shared a part with another.
    shared
        Parts with a price used by more than one model, as (category, part index).
    """

    most: int
    models: tuple[Model, ...]
    worth: float
    contribution: float
    stock_cost: float
    shared_saving: float
    shared: tuple[tuple[int, int], ...]

    def served(self) -> set[int]:
        """Positions of the groups served."""
        return {group for model in self.models for group in model.serves}


@dataclass(frozen=True)
class Stopped:
    """Why no machine does for a group.

    Attributes
    ----------
    none_feasible
        Whether no machine at all keeps every hard limit.
    least_time, most_force
        Of the machines that keep every hard limit; infinite and 0 where there is none.
    blocking
        Hard limits that machines cross which are quick and strong enough, out of a random sample;
        nothing where no machine of it is. Of all its machines where none is feasible.
    """

    none_feasible: bool
    least_time: float
    most_force: float
    blocking: tuple[Blocking, ...]


@dataclass(frozen=True)
class LineupAnswer:
    """Lines of one model and more.

    Attributes
    ----------
    needs
        Groups of buyers.
    space
        New machines: outlay of a part is its price.
    lines
        Best line of at most 1, 2, ... models.
    chosen
        Position in ``lines`` of the line asked for, or of the shortest that no listed one betters.
    cheapest
        Cost of the cheapest machine that does for each group alone; infinite where none does.
    stops
        What stands in the way of each group that no machine does for; None for the others.
    candidates
        Machines among which the lines were chosen.
    proven, gap
        Whether no other line is worth more; else by how much one could be at most.
    """

    needs: tuple[Need, ...]
    terms: Terms
    space: Space
    lines: tuple[Line, ...]
    chosen: int
    cheapest: tuple[float, ...]
    stops: tuple[Stopped | None, ...]
    candidates: int
    proven: bool
    gap: float
    seconds: float

    @property
    def line(self) -> Line:
        """The line chosen."""
        return self.lines[self.chosen]

    def gain(self, nth: int, further: int = 1) -> float:
        """What more models than in ``lines[nth]`` add to the worth; 0 beyond the last."""
        last = min(nth + further, len(self.lines) - 1)
        more, worth = self.lines[last].worth, self.lines[nth].worth
        return more - worth if betters(more, worth) else 0.0


def betters(more: float, worth: float) -> bool:
    """Whether a worth is more than another by more than rounding and HiGHS can err."""
    return more - worth > TOLERANCE * max(abs(more), abs(worth), 1.0)


# --- from a study -------------------------------------------------------------------------------


def needs_of(study: Study) -> tuple[Need, ...]:
    """Needs of the study's groups of buyers; their wood asks for a force."""
    logs = {log.name: log for log in study.setting.met_wood}
    found = []
    for group in study.buyers:
        force = group.least_force
        if group.wood:
            force = max(force, force_to_split(logs[group.wood], group.unsplit_share))
        found.append(
            Need(group.name, group.number, force, group.longest_cycle, group.highest_price)
        )
    return tuple(found)


def terms_of(study: Study) -> Terms:
    """Terms of the study's line."""
    return Terms(study.money.margin, study.lineup.stock, study.lineup.model_cost)


def new_machines(study: Study) -> Space:
    """Space of machines built new: each part costs its price, none is there already.

    Raises
    ------
    CallError
        No part of a category is left to build with.
    """
    lists = []
    for prices in searched_space(study).lists:
        out = study.lineup.leave_out.get(prices.category, ())
        lanes = np.array(
            [lane for lane, name in enumerate(prices.names) if name not in out], dtype=np.intp
        )
        if len(lanes) == 0:
            raise CallError(
                f"lineup.leave_out.{prices.category} leaves no {prices.category.replace('_', ' ')} "
                "to build a new machine with"
            )
        parts = take(prices.parts, lanes)
        parts = replace(parts, outlay=np.asarray(parts.price, dtype=np.float64))
        names = tuple(prices.names[lane] for lane in lanes)
        lists.append(PriceList(category=prices.category, names=names, parts=parts))
    return Space(lists)


def new_setting(study: Study) -> Setting:
    """Setting for new machines: limits of the study's own on the outlay of an upgrade fall away."""
    kept = tuple(limit for limit in study.setting.user_limits if limit.result != "cost.outlay")
    return replace(study.setting, user_limits=kept)


def study_lineup(
    study: Study, models: int | None = None, progress: Progress | None = None
) -> LineupAnswer:
    """Best lines for the study's groups of buyers; ``models`` asks for one of them.

    Raises
    ------
    CallError
        The study names no buyers.
    """
    if not study.buyers:
        raise CallError(
            f"{study.folder}: no [[buyers]] in study.toml; a line of models needs at least one "
            "group with its number, longest_cycle and highest_price"
        )
    return find_lineup(
        new_machines(study), new_setting(study), needs_of(study), terms_of(study), models, progress
    )


# --- candidates ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Set:
    """Some groups that one model may serve: what that asks of it, and its buyers."""

    groups: tuple[int, ...]
    number: float
    income: float
    cycle_time: float
    force: float
    cost: float


def _sets(needs: Sequence[Need], terms: Terms) -> Iterator[_Set]:
    for size in range(1, len(needs) + 1):
        for groups in combinations(range(len(needs)), size):
            some = [needs[group] for group in groups]
            yield _Set(
                groups,
                sum(need.number for need in some),
                sum(need.number * need.price for need in some),
                min(need.cycle_time for need in some),
                max(need.force for need in some),
                min(terms.highest_cost(need.price) for need in some),
            )


def _does(points: Array, cycle_time: float, force: float) -> NDArray[np.bool_]:
    mask: NDArray[np.bool_] = (points[:, 0] <= cycle_time) & (points[:, 1] <= -force)
    return mask


def _cheapest(points: Array, cycle_time: float, force: float) -> float:
    """Least cost of the machines that are quick and strong enough; infinite where none is."""
    costs = points[_does(points, cycle_time, force), 2]
    return float(costs.min()) if len(costs) else np.inf


def _windows(sets: Sequence[_Set], front: Array, stock: float) -> Array:
    """Windows that hold every model of a best line, loosest only."""
    found = []
    for one in sets:
        least = _cheapest(front, one.cycle_time, one.force)
        if least <= one.cost:
            dearest = min(one.cost, least * (1.0 + stock / one.number) * (1.0 + _ROUNDING))
            found.append((one.cycle_time, -one.force, dearest))
    if not found:
        return np.zeros((0, 3))
    windows = np.unique(np.array(found), axis=0)
    return windows[not_dominated(-windows)]


def _candidates(
    search: ExactSearch, sets: Sequence[_Set], front: Designs, stock: float
) -> tuple[Designs, bool]:
    """Machines to choose from, and whether they hold every best line."""
    share = 1.0
    while True:
        windows = _windows(sets, front.points, stock * share)
        if len(windows) == 0:
            return Designs(front.indices[:0], front.points[:0]), True
        found = search.within(windows, MOST_MACHINES)
        if found is not None:
            return found, share == 1.0
        share *= NARROWER
        if share < 1e-3:
            return front, False


def _thinned(one: _Set, machines: Designs, prices: Array, stock: float) -> Lanes:
    """Positions of the machines that may serve a set in a best line (rules 2 and 1)."""
    does = _does(machines.points, one.cycle_time, one.force)
    lanes = np.flatnonzero(does & (machines.points[:, 2] <= one.cost))
    if len(lanes) == 0:
        return lanes
    lanes = lanes[np.argsort(machines.points[lanes, 2], kind="stable")]
    costs = machines.points[lanes, 2]
    kept = np.ones(len(lanes), dtype=np.bool_)
    for rival in range(min(_RIVALS, len(lanes))):
        differs = machines.indices[lanes] != machines.indices[lanes[rival]]
        stocked = stock * (differs * prices[lanes[rival]]).sum(axis=1)
        kept &= one.number * (costs - costs[rival]) <= stocked + _ROUNDING * costs
    return lanes[kept]


# --- choice -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Choice:
    """A machine for a set of groups, and what it earns without its stock."""

    lane: int
    groups: tuple[int, ...]
    earns: float


def _choices(sets: Sequence[_Set], machines: Designs, prices: Array, terms: Terms) -> list[_Choice]:
    found = []
    for one in sets:
        for lane in _thinned(one, machines, prices, terms.stock):
            earns = one.income - one.number * machines.points[lane, 2] - terms.model_cost
            if earns > 0.0:
                found.append(_Choice(int(lane), one.groups, float(earns)))
    return found


def _solve(
    choices: Sequence[_Choice],
    machines: Designs,
    part_prices: Sequence[Array],
    groups: int,
    stock: float,
    most: int,
) -> list[_Choice]:
    """Best choices for at most so many models: the whole-number programme."""
    if not choices:
        return []
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415
    from scipy.sparse import coo_array  # noqa: PLC0415

    starts = np.concatenate([[0], np.cumsum([len(prices) for prices in part_prices])])
    parts = int(starts[-1]) if stock > 0.0 else 0
    columns = len(choices)
    across: list[int] = []
    down: list[int] = []
    for column, choice in enumerate(choices):
        down.append(0)
        across.append(column)
        for group in choice.groups:
            down.append(1 + group)
            across.append(column)
            if parts:
                row = 1 + groups + group * parts
                down.extend(row + starts[:-1] + machines.indices[choice.lane])
                across.extend([column] * len(part_prices))
    values = np.ones(len(across))
    rows = 1 + groups + groups * parts
    held = coo_array(
        (
            np.concatenate([values, -np.ones(groups * parts)]),
            (
                np.concatenate([down, 1 + groups + np.arange(groups * parts)]),
                np.concatenate([across, columns + np.tile(np.arange(parts), groups)]),
            ),
        ),
        shape=(rows, columns + parts),
    ).tocsr()
    upper = np.concatenate([[most], np.ones(groups), np.zeros(groups * parts)])
    stocked = stock * np.concatenate(part_prices) if parts else np.zeros(0)
    cost = np.concatenate([[-choice.earns for choice in choices], stocked])
    scale = np.abs(cost).max()
    done = milp(
        cost / scale,
        integrality=np.concatenate([np.ones(columns), np.zeros(parts)]),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(held, -np.inf, upper),
        options={"mip_rel_gap": 0.0},
    )
    if done.status != 0:
        raise RuntimeError(f"HiGHS did not finish: {done.message}")
    return [choice for choice, taken in zip(choices, done.x[:columns], strict=True) if taken > 0.5]


def _line(
    most: int,
    taken: Sequence[_Choice],
    machines: Designs,
    part_prices: Sequence[Array],
    needs: Sequence[Need],
    terms: Terms,
) -> Line:
    """Line of the choices taken, its money added up anew."""
    serves: dict[int, list[int]] = {}
    for choice in taken:
        serves.setdefault(choice.lane, []).extend(choice.groups)
    models = []
    worth = contribution = 0.0 - terms.model_cost * len(serves)
    uses: dict[tuple[int, int], int] = {}
    for lane, groups in serves.items():
        time_taken, force, cost = (float(value) for value in machines.points[lane])
        row = tuple(int(part) for part in machines.indices[lane])
        price = terms.price(cost)
        models.append(Model(row, tuple(sorted(groups)), cost, price, time_taken, -force))
        for group in groups:
            worth += needs[group].number * (needs[group].price - cost)
            contribution += needs[group].number * (price - cost)
        for used in enumerate(row):
            uses[used] = uses.get(used, 0) + 1
    prices = {used: float(part_prices[used[0]][used[1]]) for used in uses}
    stock_cost = terms.stock * sum(prices.values())
    models.sort(key=lambda model: (-sum(needs[g].number for g in model.serves), model.serves))
    return Line(
        most,
        tuple(models),
        worth - stock_cost,
        contribution - stock_cost,
        stock_cost,
        terms.stock * sum(prices[used] * (count - 1) for used, count in uses.items()),
        tuple(sorted(used for used, count in uses.items() if count > 1 and prices[used] > 0.0)),
    )


def find_lineup(
    space: Space,
    setting: Setting,
    needs: Sequence[Need],
    terms: Terms,
    models: int | None = None,
    progress: Progress | None = None,
) -> LineupAnswer:
    """Lines that are worth most, of at most 1, 2, ... models.

    Parameters
    ----------
    space
        Machines that can be built, the outlay of a part being its price.
    setting
        Everything that is not a part; its hard limits hold.
    needs, terms
        Groups of buyers, and what a line costs.
    models
        Models of the line asked for, at least 1; as many as pay when not given.
    progress
        Called with words and a share now and then.
    """
    started = time.perf_counter()
    sets = tuple(_sets(needs, terms))
    search = ExactSearch(space, setting, progress)
    front = search.front().designs
    machines, whole = _candidates(search, sets, front, terms.stock)
    part_prices = [np.asarray(prices.parts.price, dtype=np.float64) for prices in space.lists]
    prices = np.stack(
        [column[machines.indices[:, place]] for place, column in enumerate(part_prices)], axis=1
    )
    choices = _choices(sets, machines, prices, terms)
    sizes = range(1, max(LISTED, models or 0) + 2)

    def best(most: int) -> Line:
        taken = _solve(choices, machines, part_prices, len(needs), terms.stock, most)
        return _line(most, taken, machines, part_prices, needs, terms)

    lines: list[Line] = []
    for most in sizes:
        lines.append(best(most) if most <= len(needs) else replace(lines[-1], most=most))
    worths = [line.worth for line in lines[:LISTED]]
    enough = next(nth for nth, worth in enumerate(worths) if not betters(max(worths), worth))
    chosen = enough if models is None else models - 1
    cheapest = tuple(_cheapest(front.points, need.cycle_time, need.force) for need in needs)
    gap = 0.0 if whole else _gap(lines[chosen], sets, front, part_prices, needs, terms)
    return LineupAnswer(
        needs=tuple(needs),
        terms=terms,
        space=space,
        lines=tuple(lines),
        chosen=chosen,
        cheapest=cheapest,
        stops=_stopped(space, setting, front, needs, cheapest),
        candidates=len(machines.indices),
        proven=whole,
        gap=gap,
        seconds=time.perf_counter() - started,
    )


def _stopped(
    space: Space, setting: Setting, front: Designs, needs: Sequence[Need], cheapest: Sequence[float]
) -> tuple[Stopped | None, ...]:
    """What stands in the way of the groups that no machine does for."""
    if all(np.isfinite(cheapest)):
        return (None,) * len(needs)
    rows = random_rows(space)
    with np.errstate(all="ignore"):
        points = STANDARD.points(Evaluation(space.machine(rows), setting))
    none = len(front.points) == 0
    least = np.inf if none else float(front.points[:, 0].min())
    most = 0.0 if none else float(-front.points[:, 1].min())
    does = [
        np.full(len(rows), none)
        | ((points[:, 0] <= need.cycle_time) & (-points[:, 1] >= need.force))
        for need in needs
    ]
    without = [nth for nth, cost in enumerate(cheapest) if not np.isfinite(cost)]
    asked = np.logical_or.reduce([does[nth] for nth in without])
    crossed = crossed_by(space.machine(rows[asked]), setting) if asked.any() else {}

    def why(some: NDArray[np.bool_]) -> Stopped:
        return Stopped(none, least, most, blocking_of(crossed, some) if some.any() else ())

    return tuple(why(does[nth][asked]) if nth in without else None for nth in range(len(needs)))


def _gap(
    line: Line,
    sets: Sequence[_Set],
    front: Designs,
    part_prices: Sequence[Array],
    needs: Sequence[Need],
    terms: Terms,
) -> float:
    """By how much a line of as many models could be worth more at most.

    Without stock the front holds a best line, and a line that is worth anything stocks all parts
    of one model at least.
    """
    free = replace(terms, stock=0.0)
    prices = np.zeros(front.indices.shape)
    choices = _choices(sets, front, prices, free)
    taken = _solve(choices, front, part_prices, len(needs), 0.0, line.most)
    bound = _line(line.most, taken, front, part_prices, needs, free).worth
    usable = [_cheapest(front.points, one.cycle_time, one.force) for one in sets]
    least = min((cost for cost in usable if np.isfinite(cost)), default=0.0)
    return max(bound - terms.stock * least, 0.0) - line.worth
