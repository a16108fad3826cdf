"""What stays the same while parts are changed: frame, lines, oil, surroundings, work, constants."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from optimise.columns import Column
from optimise.machine.quantities import quantity

WEDGES: dict[str, float] = {"two-way": 1.0, "four-way": 3.0}
"""Wedges, and how many strokes of a two-way wedge one stroke of each stands for.

Counted, not measured: a round in four pieces takes a two-way wedge three strokes, one through the
round and one through each half, and a four-way wedge one stroke."""


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Beam, wedge and mounting."""

    stroke: float = quantity("length", "stroke", "travel of the ram", highest=10.0)
    extended_length: float = quantity(
        "length", "extended length", "pin to pin with the rod fully out", highest=20.0
    )
    mounting: str = "pinned-pinned"
    """One of the keys of ``physics.strength.MOUNTING_FACTORS``."""
    column: str = "rod_only"
    """``rod_only``: the rod is taken to be as long as the whole cylinder. ``stepped``: barrel and
    rod are each counted with their own stiffness."""
    barrel_length: float = quantity(
        "length",
        "barrel length",
        "from the rear pin to the gland",
        lowest=0.0,
        highest=20.0,
        default=0.0,
    )
    moving_mass: float = quantity(
        "mass",
        "moving mass",
        "wedge or plate with its slides, without the rod",
        lowest=0.0,
        default=20.0,
    )
    idle_drag: float = quantity(
        "force", "idle drag", "force that moves the slides without a log", lowest=0.0, default=500.0
    )
    suction_head: float = quantity(
        "length",
        "suction head",
        "height of the oil over the pump inlet; negative where the pump stands higher",
        lowest=-3.0,
        highest=5.0,
        default=0.0,
    )
    drive_ratio: float = quantity(
        "count", "drive ratio", "pump speed over engine speed", lowest=0.1, highest=5.0, default=1.0
    )
    wedge: str = "two-way"
    """One of the keys of :data:`WEDGES`."""
    four_way_force: float = quantity(
        "count",
        "four-way force",
        "force of a four-way wedge over that of a two-way one in the same log",
        lowest=1.0,
        highest=4.0,
        default=2.0,
    )
    """Assumed; no measured value was found. Cleavage strength is a force per width of the split
    (Record, The Mechanical Properties of Wood, 1914, table XIII), and two crossed splits are twice
    as wide: 2 where all edges enter at once. Cross edges that are set back need less, the friction
    of twice as many faces more: 1.3 to 2.5 (from judgement, no source)."""
    fill_share: float = quantity(
        "share",
        "fill",
        "oil in the tank over its volume, rod in",
        lowest=0.2,
        highest=0.98,
        default=0.8,
    )
    other_cooling: float = quantity(
        "conductance", "other cooling", "of hoses, cylinder and valve", lowest=0.0, default=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the circuit."""

    length: float = quantity("length", "length", "of the hose", lowest=0.0, highest=50.0)
    turns: float = quantity(
        "count",
        "turns",
        "number of turns, each made with the fittings",
        lowest=0.0,
        highest=50.0,
        default=0.0,
    )


@dataclass(frozen=True, kw_only=True)
class Lines:
    """Lines of the circuit; ``work`` is one of the two alike hoses to the cylinder."""

    suction: Line
    pressure: Line
    work: Line
    return_line: Line


@dataclass(frozen=True, kw_only=True)
class Oil:
    """Hydraulic oil."""

    viscosity_40: float = quantity("viscosity", "viscosity at 40 °C", "ISO VG", highest=1e-2)
    viscosity_100: float = quantity("viscosity", "viscosity at 100 °C", "", highest=1e-3)
    density_15: float = quantity("density", "density at 15 °C", "", default=870.0)
    expansion: float = quantity(
        "count", "thermal expansion", "volume share per kelvin", highest=0.01, default=0.00063
    )
    bulk_modulus: float = quantity("modulus", "bulk modulus", "without air", default=1.5e9)
    air_share: float = quantity(
        "share",
        "free air",
        "volume share of free air at working pressure",
        lowest=0.0,
        highest=0.2,
        default=0.005,
    )


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """Place, weather and the temperatures at which results are stated."""

    altitude: float = quantity(
        "altitude", "altitude", "", lowest=-500.0, highest=5000.0, default=0.0
    )
    air_temperature: float = quantity(
        "temperature",
        "air temperature",
        "around the tank and the engine",
        lowest=223.15,
        highest=333.15,
        default=298.15,
    )
    rated_oil_temperature: float = quantity(
        "temperature",
        "rating temperature",
        "oil temperature of the stated results",
        lowest=263.15,
        highest=373.15,
        default=323.15,
    )
    cold_oil_temperature: float = quantity(
        "temperature",
        "cold start",
        "coldest oil at which the engine is started",
        lowest=223.15,
        highest=323.15,
        default=263.15,
    )
    cold_engine_speed: float = quantity(
        "rotation",
        "warm-up speed",
        "engine speed while the oil is cold",
        lowest=10.0,
        highest=1000.0,
        default=1800.0 * math.pi / 30.0,
    )
    duty: float = quantity(
        "share",
        "duty",
        "share of the working time in which the machine splits",
        lowest=0.0,
        highest=1.0,
        default=0.7,
    )


@dataclass(frozen=True, kw_only=True)
class Pause:
    """A pause of the working day, engine off."""

    start: float = quantity("time", "start", "after midnight", lowest=0.0, highest=86400.0)
    length: float = quantity("time", "length", "of the pause", highest=86400.0)


@dataclass(frozen=True, kw_only=True)
class Day:
    """The working day: its hours, its air, and what warms with the oil."""

    start: float = quantity(
        "time", "start of work", "after midnight", lowest=0.0, highest=86400.0, default=28800.0
    )
    end: float = quantity(
        "time", "end of work", "after midnight", lowest=0.0, highest=86400.0, default=61200.0
    )
    pauses: tuple[Pause, ...] = ()
    sunrise: float = quantity(
        "time",
        "time of the coolest air",
        "sunrise, after midnight",
        lowest=0.0,
        highest=86400.0,
        default=21600.0,
    )
    hottest_time: float = quantity(
        "time",
        "time of the hottest air",
        "mid-afternoon, after midnight",
        lowest=0.0,
        highest=86400.0,
        default=54000.0,
    )
    morning_drop: float = quantity(
        "temperature_difference",
        "morning drop",
        "by how much the coolest air of the day is below the air temperature of the surroundings",
        lowest=0.0,
        highest=40.0,
        default=0.0,
    )
    afternoon_rise: float = quantity(
        "temperature_difference",
        "afternoon rise",
        "by how much the hottest air of the day is above the air temperature of the surroundings",
        lowest=0.0,
        highest=40.0,
        default=0.0,
    )
    warm_up_time: float = quantity(
        "time",
        "warm-up time",
        "at the warm-up speed with the valve in neutral, after a cold start",
        lowest=0.0,
        highest=7200.0,
        default=300.0,
    )
    oil_specific_heat: float = quantity(
        "specific_heat",
        "specific heat of the oil",
        "1.67 to 2.06 kJ/kg/K in handbooks",
        lowest=500.0,
        highest=5000.0,
        default=1900.0,
    )
    tank_sheet: float = quantity(
        "length", "tank sheet", "thickness of the tank's steel", highest=0.05, default=0.003
    )
    other_steel: float = quantity(
        "mass",
        "other steel",
        "of pump, valve, filter head and cylinder ends, which warms with the oil",
        lowest=0.0,
        highest=1000.0,
        default=20.0,
    )


@dataclass(frozen=True, kw_only=True)
class Work:
    """Hands and pieces."""

    handling_time: float = quantity(
        "time", "handling time", "to clear and set a piece", lowest=0.0, default=5.0
    )
    overlapped_share: float = quantity(
        "share",
        "overlap",
        "share of the handling that can run during a return under the detent",
        lowest=0.0,
        highest=1.0,
        default=0.6,
    )
    utilisation: float = quantity(
        "share", "utilisation", "share of the hour that is worked", highest=1.0, default=0.75
    )
    pieces_per_stroke: float = quantity(
        "count",
        "pieces per stroke",
        "of a two-way wedge; a four-way one makes three times as many",
        default=1.0,
    )
    pieces_per_round: float = quantity(
        "count",
        "pieces per round",
        "pieces of the size wanted that become of a round; a stroke adds to the one it is",
        lowest=2.0,
        highest=1000.0,
        default=4.0,
    )
    round_volume: float = quantity(
        "wood_volume",
        "volume of a round",
        "solid wood, mean over the mix; 0.03 m3 is 12 in across and 16 in long",
        highest=10.0,
        default=0.03,
    )


@dataclass(frozen=True, kw_only=True)
class Money:
    """What hours cost and what they bring, in the study's currency."""

    labour_rate: float = quantity(
        "money",
        "labour rate",
        "cost of an hour of work, fitting or splitting",
        lowest=0.0,
        default=0.0,
    )
    margin: float = quantity(
        "share",
        "margin",
        "share of the selling price that is left after the cost",
        lowest=0.0,
        highest=0.95,
        default=0.0,
    )
    fuel_price: float = quantity(
        "volume_price", "fuel price", "price of a volume of fuel", lowest=0.0, default=0.0
    )
    fuel_density: float = quantity(
        "density",
        "fuel density",
        "turns the fuel's mass into volume; about 745 kg/m3 for petrol, 835 kg/m3 for diesel",
        lowest=300.0,
        highest=1200.0,
        default=745.0,
    )
    hourly_worth: float = quantity(
        "money", "hourly worth", "what an hour of splitting saved is worth", lowest=0.0, default=0.0
    )
    payback_time: float = quantity(
        "time",
        "payback time",
        "hours of splitting over which an upgrade has to pay",
        default=720000.0,
    )


@dataclass(frozen=True, kw_only=True)
class Log:
    """One class of logs in the wood mix: how its peak force is spread and how the force falls."""

    name: str
    share: float = quantity("share", "share", "of the pieces", lowest=0.0, highest=1.0)
    peak_force: float = quantity("force", "peak force", "mean over the class, on a two-way wedge")
    spread: float = quantity(
        "share",
        "spread",
        "standard deviation of the peak force over its mean",
        lowest=0.0,
        highest=1.0,
        default=0.25,
    )
    loaded_travel: float = quantity(
        "share",
        "loaded travel",
        "share of the stroke against resistance",
        highest=1.0,
        default=0.5,
    )
    end_share: float = quantity(
        "share",
        "end of split",
        "force at the end of the loaded travel over the peak",
        lowest=0.0,
        highest=1.0,
        default=0.2,
    )
    fall: float = quantity(
        "count",
        "fall",
        "1: straight from the peak to the end of the split; more: quick at first, then level",
        lowest=0.5,
        highest=8.0,
        default=1.0,
    )


@dataclass(frozen=True, kw_only=True)
class Constants:
    """Uncertain constants of the model; measurements on the machine correct them.

    Those that measurements correct may be columns, one number per draw.
    """

    leakage_factor: Column = quantity("count", "leakage factor", "on the pump's slip", default=1.0)
    speed_factor: Column = quantity(
        "count", "speed factor", "real over catalogue pump flow without load", default=1.0
    )
    loss_factor: Column = quantity("count", "loss factor", "on every line loss", default=1.0)
    seal_pressure: Column = quantity(
        "pressure",
        "seal friction",
        "friction of the seals over the bore area",
        lowest=0.0,
        default=1.5e5,
    )
    reversal_factor: Column = quantity("count", "reversal factor", "on both reversals", default=1.0)
    reload_share: float = quantity(
        "share",
        "reload pressure",
        "share of the shift pressure under which the unloaded large section loads again: a plain "
        "unloading valve follows its pilot but for the friction of its spool; assumed",
        lowest=0.1,
        highest=1.0,
        default=0.95,
    )
    relief_override: float = quantity(
        "share",
        "relief override",
        "rise of the relief valve from shut to the pump's largest flow, over its setting, which is "
        "what a gauge shows with the ram stalled; a simple poppet begins far sooner; assumed",
        lowest=0.0,
        highest=0.5,
        default=0.05,
    )
    pump_reference_viscosity: float = quantity(
        "viscosity", "pump rating viscosity", "of the stated efficiencies", default=32e-6
    )
    pump_viscous_share: float = quantity(
        "share",
        "viscous torque share",
        "of the pump's torque loss at its rating",
        lowest=0.0,
        highest=1.0,
        default=0.5,
    )
    filter_reference_viscosity: float = quantity(
        "viscosity", "filter rating viscosity", "of the stated drop", default=32e-6
    )
    filter_viscous_share: float = quantity(
        "share",
        "viscous filter share",
        "of the filter's clean drop at its rating",
        lowest=0.0,
        highest=1.0,
        default=0.7,
    )
    reference_density: float = quantity(
        "density", "rating density", "of the stated drops", default=860.0
    )
    hose_roughness: float = quantity(
        "length", "hose roughness", "of the inner wall", lowest=0.0, default=5e-6
    )
    line_end_k: float = quantity(
        "count", "line ends", "loss coefficient of the two ends of a line", lowest=0.0, default=1.5
    )
    elastic_modulus: float = quantity("modulus", "elastic modulus", "of the rod", default=206.8e9)
    steel_density: float = quantity("density", "steel density", "", default=7850.0)


@dataclass(frozen=True, kw_only=True)
class LimitChange:
    """What the study changes about a limit: its bound in SI, its kind, or both."""

    bound: float | None = None
    kind: str | None = None


@dataclass(frozen=True, kw_only=True)
class UserLimit:
    """A limit of the study's own on one result, bound in SI."""

    name: str
    result: str
    at_most: float | None = None
    at_least: float | None = None
    kind: str = "hard"
    advice: str = ""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Everything about the machine and its use that is not a part from the price list."""

    frame: Frame
    lines: Lines
    oil: Oil
    surroundings: Surroundings = field(default_factory=Surroundings)
    day: Day = field(default_factory=Day)
    work: Work = field(default_factory=Work)
    money: Money = field(default_factory=Money)
    wood: tuple[Log, ...]
    constants: Constants = field(default_factory=Constants)
    limit_changes: dict[str, LimitChange] = field(default_factory=dict)
    user_limits: tuple[UserLimit, ...] = ()

    @property
    def met_wood(self) -> tuple[Log, ...]:
        """The wood mix as the wedge meets it: a four-way wedge takes more force all along."""
        if self.frame.wedge == "two-way":
            return self.wood
        factor = self.frame.four_way_force
        return tuple(replace(log, peak_force=factor * log.peak_force) for log in self.wood)

    @property
    def pieces_per_stroke(self) -> float:
        """Pieces per stroke of the wedge on the machine."""
        return WEDGES[self.frame.wedge] * self.work.pieces_per_stroke
