"""Every limit, one entry each: what is measured, against what, who says so, what to change.

A margin is the distance to the bound as a share of the bound: positive is good. A limit is added
by one entry in :data:`LIMITS`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from optimise.columns import Column, as_column
from optimise.machine.evaluation import HOT_LEVEL, Evaluation
from optimise.machine.results import result_named
from optimise.machine.setting import Setting, UserLimit

Kind = Literal["hard", "advisory"]
Sense = Literal["at most", "at least"]
Reading = Callable[[Evaluation], Column]
"""A number, or a mask, of every machine of an evaluation."""

ZERO_DEGC = 273.15


@dataclass(frozen=True)
class Limit:
    """One limit.

    Attributes
    ----------
    name, title
        Key and words.
    value, bound
        What is held against what, from the evaluation, SI.
    sense
        Whether the value may be at most or at least the bound.
    unit
        Kind of unit of value and bound.
    source
        Who says so.
    kind
        ``hard``: a search may not cross it. ``advisory``: it may, and the report says so.
    advice
        What to change when it binds.
    datum
        Zero of the margin's share; temperatures count from 0 degC.
    screen
        Optional cheap reading with the sign of the margin, for early rejection; the margin itself
        decides in the end.
    hope
        Bound from above on the margin (or screen) of every machine with worse directional parts
        than the one read, for a limit that is not monotone. Without one such a limit is only read
        on machines that are chosen whole.
    solved
        Whether it needs a solved stroke, so that a search reads it late.
    monotone
        Whether better quantities (see ``Quantity.better``) never lower its margin. Random machines
        hold the table to it in the tests. Mean power and oil temperature are not: a wider hose may
        let the pump stay in high stage against more wood, which takes more power.
    """

    name: str
    title: str
    value: Reading
    bound: Reading
    sense: Sense
    unit: str
    source: str
    kind: Kind
    advice: str
    datum: float = 0.0
    screen: Reading | None = None
    hope: Reading | None = None
    solved: bool = False
    monotone: bool = True

    def margin(self, evaluation: Evaluation) -> Column:
        """Signed share of the bound that is left; NaN where the value is."""
        value, bound = self.value(evaluation), self.bound(evaluation)
        left = bound - value if self.sense == "at most" else value - bound
        margin: Column = left / np.abs(as_column(bound) - self.datum)
        return margin


def fixed(bound: float) -> Reading:
    """Bound that is the same for every machine."""
    return lambda _: bound


FPS = 0.3048
DETENT_RESERVE = 0.9
"""Share of the detent setting that the back stroke may need."""
STEADY_OIL = "oil.steady_degC"
"""Result on which a limit of the study is screened by the heat balance, as the tool's own is."""
BYPASS_RESERVE = 0.5
"""Share of the filter's bypass setting that the clean drop may take."""

_RULE = "common practice, no source"
_MAKER = "rating of the part in the price list"

LIMITS: tuple[Limit, ...] = (
    Limit(
        "solution_found",
        "Flow balance found",
        lambda e: e.solved,
        fixed(1.0),
        "at least",
        "count",
        "a pump and a circuit that never agree have no cycle time",
        "hard",
        "Check bore, rod, pump and relief: with these the ram does not move.",
        solved=True,
    ),
    Limit(
        "rod_fit",
        "Rod in bore",
        lambda e: e.rod_fit,
        fixed(0.9),
        "at most",
        "share",
        _RULE,
        "hard",
        "Take a smaller rod or a larger bore: piston and gland need room around the rod.",
    ),
    Limit(
        "high_stage_load",
        "Engine load before the shift",
        lambda e: e.high_stage_load,
        fixed(1.0),
        "at most",
        "share",
        "torque balance of pump and engine at the shift pressure; engine full-load curve",
        "hard",
        "Take a stronger engine, a smaller pump or a lower shift pressure: the engine lugs just "
        "before the pump shifts.",
    ),
    Limit(
        "low_stage_load",
        "Engine load at relief",
        lambda e: e.low_stage_load,
        fixed(1.0),
        "at most",
        "share",
        "torque balance of pump and engine at the relief pressure; engine full-load curve",
        "hard",
        "Take a stronger engine, a pump with a smaller small section, or a lower relief setting.",
    ),
    Limit(
        "continuous_load",
        "Mean engine power",
        lambda e: e.mean_power,
        lambda e: e.continuous_power,
        "at most",
        "power",
        "about 85 % of the rating for continuous use (trade article on engine drives)",
        "hard",
        "Take a stronger engine, or wider lines so that less power goes into the oil.",
        hope=lambda e: 1.0 - e.least_mean_power / _bound_of("continuous_load", e),
        solved=True,
        monotone=False,
    ),
    Limit(
        "stall",
        "Torque against stall",
        lambda e: e.stall_share,
        fixed(0.95),
        "at most",
        "share",
        _RULE,
        "hard",
        "Take an engine with more peak torque or a smaller pump: past the peak it stalls.",
    ),
    Limit(
        "pump_speed",
        "Pump speed",
        lambda e: e.plant.pump_no_load_speed,
        lambda e: e.machine.pump.max_speed,
        "at most",
        "rotation",
        _MAKER,
        "hard",
        "Turn the engine slower or take a pump that is rated for the speed.",
    ),
    Limit(
        "pump_pressure",
        "Relief against the pump",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.pump.rated_pressure,
        "at most",
        "pressure",
        _MAKER + "; ISO 4413 asks for protection against overpressure",
        "hard",
        "Lower the relief setting or take a pump with a higher rating.",
    ),
    Limit(
        "valve_pressure",
        "Relief against the valve",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.valve.max_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Lower the relief setting or take a valve with a higher rating.",
    ),
    Limit(
        "cylinder_pressure",
        "Relief against the cylinder",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.bore.max_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Lower the relief setting or take a cylinder with a higher rating.",
    ),
    Limit(
        "pressure_hose_pressure",
        "Relief against the pressure hose",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.pressure_hose.max_pressure,
        "at most",
        "pressure",
        _MAKER + "; SAE J517 and EN 853 list hoses with four times that as burst pressure",
        "hard",
        "Take a pressure hose with a higher rating; wide hoses of one grade are rated lower.",
    ),
    Limit(
        "work_hose_pressure",
        "Relief against the work hoses",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.work_hoses.max_pressure,
        "at most",
        "pressure",
        _MAKER + "; SAE J517 and EN 853 list hoses with four times that as burst pressure",
        "hard",
        "Take work hoses with a higher rating; wide hoses of one grade are rated lower.",
    ),
    Limit(
        "fittings_pressure",
        "Relief against the fittings",
        lambda e: e.machine.valve.relief_pressure,
        lambda e: e.machine.fittings.max_pressure,
        "at most",
        "pressure",
        _MAKER + "; an assembly is rated as its lower part (scope of SAE J517)",
        "hard",
        "Take fittings with a higher rating or lower the relief setting.",
    ),
    Limit(
        "return_hose_pressure",
        "Back-pressure against the return hose",
        lambda e: e.tank_port_pressure,
        lambda e: e.machine.return_hose.max_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Take a wider or stronger return hose, or a larger filter.",
    ),
    Limit(
        "filter_pressure",
        "Back-pressure against the filter housing",
        lambda e: e.filter_drop,
        lambda e: e.machine.filter.max_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Take a larger filter.",
    ),
    Limit(
        "cooler_pressure",
        "Back-pressure against the cooler",
        lambda e: e.tank_port_pressure,
        lambda e: e.machine.cooler.max_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Take a larger return hose and filter, or a cooler with a higher rating.",
    ),
    Limit(
        "return_back_pressure",
        "Back-pressure at the tank port",
        lambda e: e.tank_port_pressure,
        lambda e: e.machine.valve.max_tank_pressure,
        "at most",
        "pressure",
        _MAKER,
        "hard",
        "Take a wider return hose, a larger filter or a smaller rod: the cap end sends back more "
        "oil than the pump delivers.",
    ),
    Limit(
        "rod_end_intensification",
        "Rod-end pressure with the port blocked",
        lambda e: e.rod_end_pressure,
        lambda e: np.minimum(e.machine.work_hoses.max_pressure, e.machine.bore.max_pressure),
        "at most",
        "pressure",
        "force balance on the piston; " + _MAKER,
        "advisory",
        "Never block or throttle the rod port on the way out; a port relief protects a large rod.",
    ),
    Limit(
        "rod_buckling",
        "Rod buckling",
        lambda e: e.buckling_factor,
        fixed(3.5),
        "at least",
        "count",
        "Euler and Johnson columns over the extended length (Shigley, Mechanical Engineering "
        "Design, 9th ed., ch. 4); factor 3.5 is common practice",
        "hard",
        "Take a thicker rod, a smaller bore, a lower relief setting or a stiffer mounting.",
    ),
    Limit(
        "rod_stress",
        "Rod stress",
        lambda e: e.rod_stress_factor,
        fixed(3.0),
        "at least",
        "count",
        "direct stress against yield; factor 3 is common practice, no source",
        "hard",
        "Take a thicker rod or a lower relief setting.",
    ),
    Limit(
        "barrel",
        "Barrel stress",
        lambda e: e.barrel_factor,
        fixed(2.5),
        "at least",
        "count",
        "thick-wall stress at the bore (Lame) against yield; factor 2.5 is common practice, no "
        "source",
        "hard",
        "Take a thicker or stronger barrel, or a lower relief setting.",
    ),
    Limit(
        "suction_velocity",
        "Velocity in the suction hose",
        lambda e: e.suction_velocity,
        fixed(4.0 * FPS),
        "at most",
        "velocity",
        "2 to 4 ft/s in published line-sizing tips",
        "advisory",
        "Take a wider suction hose.",
    ),
    Limit(
        "pressure_velocity",
        "Velocity in the pressure hose",
        lambda e: e.pressure_velocity,
        fixed(25.0 * FPS),
        "at most",
        "velocity",
        "15 to 25 ft/s in published line-sizing tips",
        "hard",
        "Take a wider pressure hose.",
    ),
    Limit(
        "work_velocity",
        "Velocity in the work hoses",
        lambda e: e.work_velocity,
        fixed(30.0 * FPS),
        "at most",
        "velocity",
        _RULE + "; above the 25 ft/s of published tips, because it lasts one back stroke",
        "hard",
        "Take wider work hoses or a smaller rod: the cap end sends back more than the pump gives.",
    ),
    Limit(
        "return_velocity",
        "Velocity in the return hose",
        lambda e: e.return_velocity,
        fixed(15.0 * FPS),
        "at most",
        "velocity",
        "10 to 15 ft/s in published line-sizing tips",
        "hard",
        "Take a wider return hose or a smaller rod: size it for the cap-end flow of the back "
        "stroke, not for the pump.",
    ),
    Limit(
        "suction_vacuum",
        "Pump inlet, warm",
        lambda e: e.inlet_pressure,
        lambda e: e.machine.pump.min_inlet_pressure,
        "at least",
        "pressure",
        _MAKER + "; 0.7 to 0.8 bar absolute for gear pumps, from memory",
        "hard",
        "Take a wider or shorter suction hose, or set the tank higher.",
    ),
    Limit(
        "suction_vacuum_cold",
        "Pump inlet, cold start",
        lambda e: e.cold_inlet_pressure,
        fixed(0.55e5),
        "at least",
        "pressure",
        "0.5 to 0.6 bar absolute briefly for gear pumps, from memory",
        "hard",
        "Take a wider suction hose or thinner oil, warm up slower, or start warmer.",
    ),
    Limit(
        "valve_flow_in",
        "Flow into the valve",
        lambda e: e.largest_flow,
        lambda e: e.machine.valve.max_flow,
        "at most",
        "flow",
        _MAKER,
        "hard",
        "Take a larger valve or a smaller pump.",
    ),
    Limit(
        "valve_flow_return",
        "Flow back through the valve",
        lambda e: e.largest_valve_flow,
        lambda e: e.machine.valve.max_flow,
        "at most",
        "flow",
        _MAKER + ", at the cap-end flow of the back stroke or of a regenerative out stroke",
        "hard",
        "Take a larger valve or a smaller rod (regenerative: a larger rod): the cap end moves more "
        "than the pump gives.",
    ),
    Limit(
        "filter_flow",
        "Flow through the filter",
        lambda e: e.largest_return_flow,
        lambda e: e.machine.filter.max_flow,
        "at most",
        "flow",
        _MAKER + ", at the cap-end flow of the back stroke",
        "hard",
        "Take a larger filter: size it for the cap-end flow of the back stroke.",
    ),
    Limit(
        "filter_drop",
        "Clean drop of the filter",
        lambda e: e.filter_drop,
        lambda e: BYPASS_RESERVE * e.machine.filter.bypass_pressure,
        "at most",
        "pressure",
        "bypass at least twice the clean drop (published filter-sizing guide)",
        "hard",
        "Take a larger filter, or the bypass opens long before the element is full.",
    ),
    Limit(
        "extend_stage",
        "Out stroke stays in high stage",
        lambda e: e.extend_stage_demand,
        lambda e: e.plant.shift_pressure,
        "at most",
        "pressure",
        "pump pressure of the full flow against the shift setting",
        "hard",
        "Take wider hoses, a larger valve or a smaller pump: the pump drops to its small section "
        "before the wedge meets wood.",
    ),
    Limit(
        "regen_switch",
        "Regenerative switch-over",
        lambda e: e.machine.valve.regen_pressure,
        lambda e: e.plant.shift_pressure,
        "at most",
        "pressure",
        "the strokes are worked out for a valve that switches over before the pump shifts",
        "hard",
        "Set the switch-over of the valve under the shift pressure of the pump.",
    ),
    Limit(
        "retract_stage",
        "Back stroke stays in high stage",
        lambda e: e.retract_stage_demand,
        lambda e: e.plant.shift_pressure,
        "at most",
        "pressure",
        "pump pressure of the full flow against the shift setting; back-pressure counts with the "
        "area ratio",
        "hard",
        "Take a wider return hose, a larger filter or valve, or a smaller rod: the pump drops to "
        "its small section and the back stroke slows down.",
    ),
    Limit(
        "detent",
        "Return detent holds",
        lambda e: e.detent_demand,
        lambda e: (
            DETENT_RESERVE
            * np.where(
                as_column(e.machine.valve.detent_pressure) > 0.0,
                e.machine.valve.detent_pressure,
                e.machine.valve.relief_pressure,
            )
        ),
        "at most",
        "pressure",
        _RULE + ": a tenth in reserve",
        "hard",
        "Raise the detent setting, take a wider return hose or a smaller rod: the detent lets go "
        "early.",
    ),
    Limit(
        "tank_volume",
        "Oil in the tank against pump flow",
        lambda e: e.residence_time,
        fixed(60.0),
        "at least",
        "time",
        "about one minute of pump flow on mobile machines (trade articles on reservoirs)",
        "advisory",
        "Take a larger tank: air needs time to leave the oil.",
    ),
    Limit(
        "tank_swing",
        "Level swing with the rod",
        lambda e: e.rod_swing_share,
        fixed(0.25),
        "at most",
        "share",
        _RULE,
        "hard",
        "Take a larger tank or a smaller rod: the suction port must stay covered.",
    ),
    Limit(
        "tank_air_space",
        "Air space of the tank",
        lambda e: e.air_space_use,
        fixed(1.0),
        "at most",
        "share",
        "thermal expansion of mineral oil up to 82 °C and the rod's volume",
        "hard",
        "Fill less oil or take a larger tank: hot oil must not come out of the breather.",
    ),
    Limit(
        "oil_temperature",
        "Steady oil temperature",
        lambda e: e.steady_temperature,
        fixed(HOT_LEVEL),
        "at most",
        "temperature",
        "reservoir at most 180 °F (82 °C) in a gear-pump service manual",
        "hard",
        "Take a cooler or more tank wall, wider lines, or split less of the hour.",
        ZERO_DEGC,
        screen=lambda e: e.cooling_margin(e.hottest_allowed),
        hope=lambda e: e.hoped_cooling_margin(e.hottest_allowed),
        solved=True,
        monotone=False,
    ),
    Limit(
        "viscosity_hot",
        "Viscosity at the steady temperature",
        lambda e: e.steady_viscosity,
        lambda e: e.machine.pump.min_viscosity,
        "at least",
        "viscosity",
        _MAKER + "; 10 to 12 cSt in published gear-pump manuals",
        "hard",
        "Cool the oil or fill a thicker grade: thin oil scores the pump.",
        screen=lambda e: e.cooling_margin(e.thin_oil_temperature),
        hope=lambda e: e.hoped_cooling_margin(e.thin_oil_temperature),
        solved=True,
        monotone=False,
    ),
    Limit(
        "viscosity_cold",
        "Viscosity at the cold start",
        lambda e: e.cold_viscosity,
        lambda e: e.machine.pump.max_viscosity,
        "at most",
        "viscosity",
        _MAKER + "; 860 to 1620 cSt in published manuals",
        "hard",
        "Fill a thinner grade or warm the oil before the start.",
    ),
    Limit(
        "cold_engine",
        "Engine load in neutral, cold start",
        lambda e: e.cold.neutral_load,
        fixed(0.95),
        "at most",
        "share",
        _RULE + "; torque balance of pump and engine at the warm-up speed, valve in neutral",
        "hard",
        "Fill a thinner grade, warm the oil before the start or warm up slower; or take a smaller "
        "pump or an engine with more peak torque: this one does not keep turning.",
        hope=lambda e: 1.0 - e.cold.least_neutral_load / _bound_of("cold_engine", e),
        solved=True,
        monotone=False,
    ),
    Limit(
        "cold_relief",
        "Pump pressure in neutral, cold start",
        lambda e: e.cold.neutral_pressure,
        lambda e: e.cold.cracking_pressure,
        "at most",
        "pressure",
        "the relief valve begins to open by the override that the study assumes",
        "hard",
        "Fill a thinner grade or warm the oil before the start, or take wider hoses: thick oil "
        "goes over the relief valve instead of through the lines.",
        hope=lambda e: 1.0 - e.cold.least_neutral_pressure / _bound_of("cold_relief", e),
        solved=True,
        monotone=False,
    ),
    Limit(
        "cold_out",
        "Pump pressure out, cold start",
        lambda e: e.cold.extend_pressure,
        lambda e: e.cold.cracking_pressure,
        "at most",
        "pressure",
        "the relief valve begins to open by the override that the study assumes",
        "advisory",
        "Warm the oil in neutral before the first stroke, or fill a thinner grade: the ram creeps "
        "while the oil goes over the relief valve.",
        solved=True,
        monotone=False,
    ),
    Limit(
        "cold_stroke_load",
        "Engine load of a stroke, cold start",
        lambda e: e.cold.stroke_load,
        fixed(0.95),
        "at most",
        "share",
        _RULE + "; torque balance of pump and engine at the warm-up speed, no log",
        "advisory",
        "Warm the oil in neutral before the first stroke: shifting the valve stalls the engine.",
        solved=True,
        monotone=False,
    ),
    Limit(
        "ram_speed_out",
        "Ram speed on the way out",
        lambda e: e.largest_extend_speed,
        fixed(0.30),
        "at most",
        "speed",
        _RULE + "; no published closing speed was found",
        "hard",
        "Take a smaller pump or a larger bore: hands are near the wedge. Stop time and guard "
        "distance follow from local rules.",
    ),
    Limit(
        "ram_speed_back",
        "Ram speed on the way back",
        lambda e: e.largest_retract_speed,
        fixed(0.45),
        "at most",
        "speed",
        _RULE + "; no published speed was found",
        "hard",
        "Take a smaller pump or a smaller rod: a quick return can catch a hand or a log.",
    ),
)
"""Every limit of the machine, in the order of the circuit."""


def _with_changes(limit: Limit, setting: Setting) -> Limit:
    change = setting.limit_changes.get(limit.name)
    if change is None:
        return limit
    bound = limit.bound if change.bound is None else fixed(change.bound)
    kind: Kind = limit.kind if change.kind is None else _kind(change.kind)
    return replace(limit, bound=bound, kind=kind)


def _kind(text: str) -> Kind:
    return "advisory" if text == "advisory" else "hard"


def _bound_of(name: str, evaluation: Evaluation) -> Column:
    limit = next(limit for limit in LIMITS if limit.name == name)
    return _with_changes(limit, evaluation.setting).bound(evaluation)


def _heat_balance(limit: UserLimit) -> tuple[Reading | None, Reading | None]:
    """Screen and hope of a study's limit on the steady oil temperature; None for other results."""
    if limit.result != STEADY_OIL:
        return None, None
    if limit.at_most is None:
        least = limit.at_least
        return (lambda e: -e.cooling_margin(least)), None
    most = limit.at_most
    return (lambda e: e.cooling_margin(most)), (lambda e: e.hoped_cooling_margin(most))


def _of_user(limit: UserLimit) -> Limit:
    screen, hope = _heat_balance(limit)
    found = result_named(limit.result)
    bound = limit.at_most if limit.at_most is not None else limit.at_least
    assert bound is not None
    return Limit(
        limit.name,
        f"{limit.name[:1].upper()}{limit.name[1:]}",
        found.reading,
        fixed(bound),
        "at most" if limit.at_most is not None else "at least",
        found.unit,
        "the study",
        _kind(limit.kind),
        limit.advice or f"Set by the study on {found.title.lower()}.",
        ZERO_DEGC if found.unit == "temperature" else 0.0,
        screen=screen,
        hope=hope,
        solved=True,
        monotone=found.better == (-1 if limit.at_most is not None else 1),
    )


def limits_of(setting: Setting) -> tuple[Limit, ...]:
    """All limits that hold in a setting: the table with the study's changes, then its own."""
    return tuple(_with_changes(limit, setting) for limit in LIMITS) + tuple(
        _of_user(limit) for limit in setting.user_limits
    )
