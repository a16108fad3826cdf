"""One machine over a whole cycle as a stiff system of equations: the referee of the fast model.

Engine speed, pressures, ram and oil columns move by their own inertia and compression. Every loss
is the fast model's: the paths of :class:`~optimise.machine.strokes.Strokes`, its drives, its drag.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimise.columns import Array, shape_of
from optimise.machine.dynamics import (
    FAR,
    INFLOW,
    LOADED,
    NEAR,
    OUTFLOW,
    PILOT,
    POWERS,
    PUMP,
    RAM,
    SPEED,
    TRAVEL,
    Dynamics,
    Equations,
    Mode,
    Piece,
    Plan,
    no_force,
)
from optimise.machine.evaluation import Evaluation
from optimise.machine.log_force import ForceLevels
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting

FINISHED = "finished"
RAM_HELD = "the ram is held"
ENGINE_STALLS = "the engine stalls"
DETENT_TRIPS = "the detent lets go early"
TOO_SLOW = "no end within the time limit"

STANDING = 1e-3
"""Ram speed [m/s] under which the ram counts as standing."""
PATIENCE = 3.0
"""Time [s] after which a standing ram is taken to be held for good."""
TIME_LIMIT = 180.0
"""Longest stroke that is followed [s]."""
GRID = 0.01
"""Step of the trace [s]."""
WINDOW = (0.4, 0.9)
"""Share of the free travel in which the speed of the settled ram is read."""
LEAST_FREE = 0.05
"""Share of the stroke that must be free for that reading."""

UNLOADED, RELOADED = "large section unloaded", "large section loaded again"
PARTED, JOINED = "rod end led to the tank", "rod end joined to the cap end"
WOOD = "next force of the log"
DETENT = "detent lets go"


_TOUCH = 1e-9
_MOMENT = 1e-9
"""Time [s] that is too short to follow."""
_RELATIVE = 1e-6
_ABSOLUTE = np.array([1e-5, 20.0, 20.0, 20.0, 1e-8, 1e-7, 1e-9, 1e-9, 20.0, 1e-6])


@dataclass(frozen=True)
class EnergyTotals:
    """Where the work of the engine went over the whole trace [J].

    ``impact`` is the motion lost when the ram meets its stop and when oil columns are cut or
    joined by the spool. ``stored`` is what flywheel, ram, oil columns and compressed oil hold at
    the end over what they held at the start.
    """

    engine: float
    pump: float
    relief: float
    lines: float
    friction: float
    wood: float
    damping: float
    impact: float
    stored: float

    @property
    def spent(self) -> float:
        """Sum of losses, wood and what is stored [J]."""
        losses = self.pump + self.relief + self.lines + self.friction + self.damping + self.impact
        return losses + self.wood + self.stored

    @property
    def imbalance(self) -> float:
        """Share of the engine's work that is not found again."""
        return (self.engine - self.spent) / self.engine


@dataclass(frozen=True)
class Switch:
    """Something that switched, at a time [s] of the trace."""

    time: float
    what: str


@dataclass(frozen=True)
class Transient:
    """A cycle as it runs.

    The arrays stand on one grid of time, at most about :data:`GRID` apart; the moment of a switch
    stands in it twice, before and after.

    Attributes
    ----------
    times
        s, from the moment the lever is moved for the out stroke.
    position, velocity
        Of the ram from its inner end, m and m/s, out is positive.
    pump_pressure, cap_pressure, rod_pressure
        Gauge, Pa.
    engine_speed
        rad/s.
    pump_flow, return_flow
        Delivered by the pump and through the return line, m3/s.
    stage
        1 with both pump sections at work, 0 with the small one alone.
    extend_time, retract_time
        Time in which the ram would have made its stroke had it run from the first moment as it ran
        once settled: from the start of the stroke to its end, less the time lost on the way to the
        settled speed (s). The settled speed is read over :data:`WINDOW` of the free travel and
        drawn back to the start. With a log against the ram from the start on, the time counts from
        when the ram starts. NaN where the stroke has no end.
    extend_reversal_time, retract_reversal_time
        The rest of each half of the cycle, from the lever on: spool, compression, start (s).
    detent_delay
        From the end of the back stroke until the detent lets go (s); 0 without a detent.
    outcome
        One of the words of this module; only ``FINISHED`` has all times.
    switches
        What the unloader and the detent did, and when the ram met wood or was held.
    energy
        Where the work went.
    highest_pump_pressure
        Largest at any step of the solver, peaks between the points of the grid included, Pa.
    """

    times: Array
    position: Array
    velocity: Array
    pump_pressure: Array
    cap_pressure: Array
    rod_pressure: Array
    engine_speed: Array
    pump_flow: Array
    return_flow: Array
    stage: Array
    extend_time: float
    retract_time: float
    extend_reversal_time: float
    retract_reversal_time: float
    detent_delay: float
    outcome: str
    switches: tuple[Switch, ...]
    energy: EnergyTotals
    highest_pump_pressure: float

    @property
    def reversal_time(self) -> float:
        """Both reversals of the cycle [s]."""
        return self.extend_reversal_time + self.retract_reversal_time

    @property
    def cycle_time(self) -> float:
        """From the lever for the out stroke to the end of the back stroke [s]."""
        return self.extend_time + self.retract_time + self.reversal_time

    def count(self, what: str) -> int:
        """How often something switched."""
        return sum(switch.what == what for switch in self.switches)


def simulate_cycle(
    machine: Machine,
    setting: Setting,
    *,
    log_force: Callable[[float], float] | None = None,
    temperature: float | None = None,
    dynamics: Dynamics | None = None,
) -> Transient:
    """Out and back of one machine from a standstill in neutral, lever moved back at the far end.

    While the spool moves, the pump runs to the tank and the cylinder is shut; then its ports are
    open at once. The pump's stage follows its pilot pressure with hysteresis. The relief valve
    opens in proportion. The engine follows its governor's droop and its full-load curve without
    lag. At the end of the back stroke the pressure rises until the detent lets go.

    Parameters
    ----------
    machine
        Every field one number.
    log_force
        Force on the wood [N] against travel [m] on the way out; none without a log.
    temperature
        Of the oil, K; the rating temperature when not given.
    dynamics
        Inertias, unloader and relief.

    Raises
    ------
    ArithmeticError
        Where the solver gives up.
    ValueError
        For a column of machines, or a pump that gives no flow even in neutral.
    """
    if shape_of(machine) != ():
        raise ValueError("simulate_cycle takes one machine, not a column of machines")
    evaluation = Evaluation(machine, setting)
    strokes = evaluation.rated if temperature is None else evaluation.strokes_at(temperature)
    if not np.isfinite(strokes.neutral.flow):
        raise ValueError("the pump gives no flow in neutral, so there is nothing to start from")
    plan = Plan(strokes, float(evaluation.atmosphere), dynamics or Dynamics())
    return _Run(plan, log_force).cycle()


Event = tuple[str, Callable[[Array], float], int]
"""Name, function of the state and the direction in which its zero counts."""


class _Run:
    """One cycle: the state as it stands and the stretches solved so far."""

    def __init__(self, plan: Plan, log_force: Callable[[float], float] | None) -> None:
        self.plan = plan
        self.log_force = log_force
        self.pieces: list[Piece] = []
        self.switches: list[Switch] = []
        self.time = 0.0
        self.impact = 0.0
        neutral = plan.strokes.neutral
        self.mode = Mode(1, True, bool(neutral.high_stage > 0.0), False, True, no_force)
        self.state: Array = np.zeros(LOADED + 1)
        self.state[SPEED] = float(neutral.speed)
        self.state[[PUMP, PILOT]] = float(neutral.pressure)
        self.state[[INFLOW, OUTFLOW]] = float(neutral.flow)
        self.state[LOADED] = float(neutral.high_stage)
        self.stored_at_start = self._stored()

    @property
    def _equations(self) -> Equations:
        return Equations(self.plan, self.mode)

    def _stored(self) -> float:
        now = self._equations
        return now.motion(self.state) + now.compression(self.state)

    def _note(self, what: str) -> None:
        self.switches.append(Switch(self.time, what))

    def _become(self, state: Array | None = None, **changes: Any) -> None:
        """Switch the mode and, with it, the state; motion that gets lost counts as impact."""
        before = self._equations.motion(self.state)
        self.mode = replace(self.mode, **changes)
        if state is not None:
            self.state = state
        self.impact += before - self._equations.motion(self.state)

    # --- spool, unloader, regenerative valve -------------------------------------------------

    def _joined(self, state: Array, cap_flow: float) -> Array:
        """State with the rod's column joined to pump and cap column; their momentum is shared."""
        plan, joined = self.plan, state.copy()
        surplus = state[INFLOW] + state[OUTFLOW] - cap_flow
        impulse = surplus / (1.0 / plan.pressure_inertance + 2.0 / plan.work_inertance)
        joined[INFLOW] -= impulse / plan.pressure_inertance
        joined[OUTFLOW] -= impulse / plan.work_inertance
        return joined

    def _parted(self, state: Array) -> Array:
        """State with the rod's column led to the tank; momentum of each new column is kept."""
        plan, parted = self.plan, state.copy()
        parted[INFLOW] += plan.work_inertance * state[OUTFLOW] / plan.in_inertance
        parted[OUTFLOW] *= plan.work_inertance / plan.out_inertance
        return parted

    def _lead(self, direction: int, force: Callable[[float], float]) -> None:
        """Pump to one end of the cylinder, the other to the tank."""
        plan, state = self.plan, self.state.copy()
        through = state[INFLOW]
        if direction != self.mode.direction:
            state[[NEAR, FAR]] = state[[FAR, NEAR]]
            state[TRAVEL] = 0.0
        joined = direction > 0 and state[PILOT] < plan.regen_pressure
        if joined:
            state[OUTFLOW] = 0.0
            state = self._joined(state, 0.0)
        else:
            state[INFLOW] = through * plan.pressure_inertance / plan.in_inertance
            state[OUTFLOW] = through * plan.return_inertance / plan.out_inertance
        self._become(
            state, direction=direction, neutral=False, joined=joined, held=True, force=force
        )

    def _shut(self) -> None:
        """Spool in neutral: pump to the tank, both ends shut."""
        plan, state = self.plan, self.state.copy()
        returned = 0.0 if self.mode.joined else state[OUTFLOW]
        state[[INFLOW, OUTFLOW]] = (
            plan.pressure_inertance * state[INFLOW] + plan.return_inertance * returned
        ) / plan.neutral_inertance
        state[RAM] = 0.0
        self._become(state, neutral=True, joined=False, held=True, force=no_force)

    def _switch_valves(self) -> None:
        """Unloader and regenerative valve as the pilot pressure has them."""
        plan = self.plan
        above, below = self.state[PILOT] * (1.0 + _TOUCH), self.state[PILOT] * (1.0 - _TOUCH)
        if self.mode.joined and above >= plan.regen_pressure:
            self._become(self._parted(self.state), joined=False)
            self._note(PARTED)
        if plan.two_stage and self.mode.high and above >= plan.shift_pressure:
            self._become(high=False)
            self._note(UNLOADED)
        elif not self.mode.high and below <= plan.reload_pressure:
            self._become(high=True)
            self._note(RELOADED)
        if self._may_join and below <= plan.rejoin_pressure:
            self._become(self._joined(self.state, float(self.state[INFLOW])), joined=True)
            self._note(JOINED)

    @property
    def _may_join(self) -> bool:
        mode = self.mode
        outward = mode.direction > 0 and not mode.neutral
        return outward and mode.high and not mode.joined and self.plan.regen_pressure > 0.0

    def _valve_events(self) -> list[Event]:
        plan, found = self.plan, list[Event]()
        if self.mode.joined:
            found.append(("valve", lambda state: state[PILOT] - plan.regen_pressure, 1))
        if plan.two_stage and self.mode.high:
            found.append(("valve", lambda state: state[PILOT] - plan.shift_pressure, 1))
        if not self.mode.high:
            found.append(("valve", lambda state: state[PILOT] - plan.reload_pressure, -1))
        if self._may_join:
            found.append(("valve", lambda state: state[PILOT] - plan.rejoin_pressure, -1))
        return found

    # --- solving -----------------------------------------------------------------------------

    def _solve(self, duration: float, events: Sequence[Event]) -> str:
        """Go on until an event or for a time; the name of the event, or nothing."""
        from scipy.integrate import solve_ivp  # noqa: PLC0415

        watched = []
        for _, function, direction in events:

            def watch(
                _time: float, state: Array, function: Callable[[Array], float] = function
            ) -> float:
                return function(state)

            watch.terminal = True  # type: ignore[attr-defined]
            watch.direction = direction  # type: ignore[attr-defined]
            watched.append(watch)
        found = solve_ivp(
            self._equations.rates,
            (self.time, self.time + duration),
            self.state,
            method="LSODA",
            events=watched,
            dense_output=True,
            rtol=_RELATIVE,
            atol=_ABSOLUTE,
        )
        if not found.success:
            raise ArithmeticError(f"the equations cannot be followed further: {found.message}")
        assert found.sol is not None
        self.pieces.append(Piece(self.mode, found.t, found.sol))
        self.time = float(found.t[-1])
        self.state = np.asarray(found.y[:, -1], dtype=np.float64)
        fired = [
            name
            for (name, _, _), times in zip(events, found.t_events or (), strict=False)
            if len(times)
        ]
        return fired[0] if fired else ""

    def _wait(self, duration: float, events: Sequence[Event] = ()) -> str:
        """Hold the ram for a time with the valves alive; the first event that is not theirs."""
        end = self.time + duration
        while end - self.time > _MOMENT:
            self._switch_valves()
            fired = self._solve(end - self.time, [*self._valve_events(), *events])
            if fired not in ("valve", ""):
                return fired
        return ""

    def _stroke(self, edges: Sequence[float]) -> str:
        """Ram from stop to stop in the mode set; how it ended."""
        plan, waiting = self.plan, list(edges)
        started, stood = self.time, self.time
        standing, fired = True, ""
        while True:
            self._switch_valves()
            if self.mode.held and (fired == "free" or self._equations.net_push(self.state) > 0.0):
                self._become(held=False)
            standing = standing or self.mode.held
            left = started + TIME_LIMIT - self.time
            if standing:
                left = min(left, stood + PATIENCE - self.time)
            if left <= _MOMENT:
                return RAM_HELD if standing else TOO_SLOW
            fired = self._solve(left, [*self._valve_events(), *self._ram_events(standing, waiting)])
            if fired == "end":
                state = self.state.copy()
                state[TRAVEL], state[RAM] = plan.stroke, 0.0
                self._become(state, held=True)
                return FINISHED
            if fired == "back":
                state = self.state.copy()
                state[TRAVEL], state[RAM] = 0.0, 0.0
                self._become(state, held=True)
            elif fired == "edge":
                self._note(WOOD)
                waiting.pop(0)
                self._become(force=self._level(self.state[TRAVEL]))
            elif fired == "stands":
                standing, stood = True, self.time
            elif fired == "moves":
                standing = False
            elif fired in (ENGINE_STALLS, DETENT_TRIPS):
                return fired

    def _ram_events(self, standing: bool, waiting: Sequence[float]) -> list[Event]:
        plan, now = self.plan, self._equations
        found: list[Event] = [(ENGINE_STALLS, lambda state: state[SPEED] - plan.stall_speed, -1)]
        if self.mode.direction < 0 and plan.detent_pressure > 0.0:
            found.append((DETENT_TRIPS, lambda state: state[PILOT] - plan.detent_pressure, 1))
        if self.mode.held:
            found.append(("free", now.net_push, 1))
            return found
        found.append(("end", lambda state: state[TRAVEL] - plan.stroke, 1))
        found.append(("back", lambda state: state[TRAVEL] + 1e-7, -1))
        if waiting:
            found.append(("edge", lambda state: state[TRAVEL] - waiting[0], 1))
        if standing:
            found.append(("moves", lambda state: state[RAM] - STANDING, 1))
        else:
            found.append(("stands", lambda state: state[RAM] - STANDING, -1))
        return found

    def _level(self, travel: float) -> Callable[[float], float]:
        """Force of a stepped profile from a travel on, up to the next step."""
        assert self.log_force is not None
        if isinstance(self.log_force, ForceLevels) and self.log_force.ramp > 0.0:
            return self.log_force
        force = self.log_force(float(travel) + 1e-9)
        return lambda _travel: force

    # --- the cycle ---------------------------------------------------------------------------

    def cycle(self) -> Transient:
        """Out, back, until the detent lets go."""
        plan, profile = self.plan, self.log_force
        edges: Sequence[float] = ()
        force = no_force if profile is None else profile
        if isinstance(profile, ForceLevels):
            edges = [edge for edge in profile.edges if edge > 0.0]
            force = self._level(0.0)
        halves: list[_Half] = []
        detent_delay = 0.0
        outcome = FINISHED
        for direction, log, steps in ((1, force, edges), (-1, no_force, ())):
            lever = self.time
            if direction < 0:
                self._shut()
            self._wait(plan.shift_time)
            first = len(self.pieces)
            self._lead(direction, log)
            outcome = self._stroke(steps)
            free = self._free_travel() if direction > 0 else plan.stroke
            halves.append(_Half(lever, self.time, free, plan.stroke, self.pieces[first:]))
            if outcome != FINISHED:
                break
        if outcome == FINISHED and plan.detent_pressure > 0.0:
            arrived = self.time
            lets_go: Event = ("detent", lambda state: state[PILOT] - plan.detent_pressure, 1)
            let_go = self._wait(PATIENCE, [lets_go]) == "detent"
            detent_delay = self.time - arrived if let_go else math.nan
            if let_go:
                self._note(DETENT)
        return self._transient(halves, outcome, detent_delay)

    def _free_travel(self) -> float:
        """Travel [m] before the first force of the log."""
        stroke = self.plan.stroke
        if self.log_force is None:
            return stroke
        if isinstance(self.log_force, ForceLevels):
            pairs = zip(self.log_force.edges, self.log_force.forces, strict=True)
            return min((edge for edge, force in pairs if force > 0.0), default=stroke)
        stations = np.linspace(0.0, stroke, 1001)
        loaded = [place for place in stations if self.log_force(float(place)) > 0.0]
        return float(loaded[0]) if loaded else stroke

    def _transient(self, halves: Sequence[_Half], outcome: str, detent_delay: float) -> Transient:
        plan = self.plan
        columns = [_traced(plan, piece) for piece in self.pieces]
        trace = {name: np.concatenate([c[name] for c in columns]) for name in columns[0]}
        ended = halves if outcome == FINISHED else halves[:-1]
        times = [half.times() for half in ended] + [(math.nan, math.nan)] * (2 - len(ended))
        (out, out_lost), (back, back_lost) = times
        totals: Array = np.sum([_work(plan, piece) for piece in self.pieces], axis=0)
        works = dict(zip(POWERS, totals.tolist(), strict=True))
        return Transient(
            **trace,
            extend_time=out,
            retract_time=back,
            extend_reversal_time=out_lost,
            retract_reversal_time=back_lost,
            detent_delay=detent_delay,
            outcome=outcome,
            switches=tuple(self.switches),
            energy=EnergyTotals(
                **works, impact=self.impact, stored=self._stored() - self.stored_at_start
            ),
            highest_pump_pressure=max(
                float(piece.states(piece.steps)[PUMP].max()) for piece in self.pieces
            ),
        )


@dataclass(frozen=True)
class _Half:
    """One stroke with the reversal before it."""

    lever: float
    end: float
    free: float
    stroke: float
    pieces: Sequence[Piece]

    def times(self) -> tuple[float, float]:
        """Time of the stroke and time lost before it [s]; see ``Transient.extend_time``."""
        if self.free < LEAST_FREE * self.stroke:
            moving = next(piece for piece in self.pieces if not piece.mode.held)
            start = float(moving.steps[0])
        else:
            times = np.concatenate([_grid(piece) for piece in self.pieces])
            travel = np.concatenate([piece.states(_grid(piece))[TRAVEL] for piece in self.pieces])
            places = np.array(WINDOW) * self.free
            first, last = np.interp(places, np.maximum.accumulate(travel), times)
            start = first - places[0] * (last - first) / (places[1] - places[0])
        return self.end - start, start - self.lever


def _grid(piece: Piece) -> Array:
    """Times of the trace over a stretch, both ends included."""
    start, end = float(piece.steps[0]), float(piece.steps[-1])
    return np.linspace(start, end, max(2, round((end - start) / GRID) + 1))


def _traced(plan: Plan, piece: Piece) -> dict[str, Array]:
    """Columns of the trace over a stretch, by field of :class:`Transient`."""
    times = _grid(piece)
    states = piece.states(times)
    equations, mode = Equations(plan, piece.mode), piece.mode
    out = mode.direction > 0
    travel, ram = states[TRAVEL], states[RAM]
    return {
        "times": times,
        "position": travel if out else plan.stroke - travel,
        "velocity": ram if out else -ram,
        "pump_pressure": states[PUMP],
        "cap_pressure": states[NEAR] if out else states[FAR],
        "rod_pressure": states[FAR] if out else states[NEAR],
        "engine_speed": states[SPEED],
        "pump_flow": np.asarray(plan.pump_flow(states[LOADED], states[PUMP], states[SPEED])),
        "return_flow": equations.flows(states)[3],
        "stage": np.full(times.shape, 1.0 if mode.high else 0.0),
    }


def _work(plan: Plan, piece: Piece) -> Array:
    """Work [J] of each power of :class:`Equations` over a stretch, two Gauss points a step."""
    steps = piece.steps
    half = 0.5 * np.diff(steps)
    middle = 0.5 * (steps[1:] + steps[:-1])
    reach = half / math.sqrt(3.0)
    times = np.stack([middle - reach, middle + reach], axis=1).reshape(-1)
    powers = Equations(plan, piece.mode).powers(piece.states(times))
    return np.asarray(powers @ np.repeat(half, 2), dtype=np.float64)
