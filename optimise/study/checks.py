"""What must hold between fields that are each in order by themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from optimise.errors import quoted
from optimise.machine.parts import Engine, Filter, Pump, Valve
from optimise.machine.quantities import quantities
from optimise.machine.setting import Day, Frame, Oil, Surroundings
from optimise.study.table_faults import Finding
from optimise.units import System, show


@dataclass(frozen=True)
class Order:
    """One field that must stay below another.

    Attributes
    ----------
    lower, upper
        Names of the fields.
    equal
        Whether they may be the same.
    where
        Field that has to be above 0 for the rule to hold; "" when it always does.
    """

    lower: str
    upper: str
    equal: bool = False
    where: str = ""


ORDERS: dict[type[Any], tuple[Order, ...]] = {
    Engine: (
        Order("rated_torque", "peak_torque"),
        Order("rated_speed", "no_load_speed"),
        Order("peak_torque_speed", "rated_speed"),
    ),
    Pump: (
        Order("unload_pressure", "shift_pressure", where="large_displacement"),
        Order("rated_speed", "max_speed", equal=True),
        Order("min_viscosity", "max_viscosity"),
    ),
    Valve: (
        Order("detent_pressure", "relief_pressure", where="detent_pressure"),
        Order("nominal_flow", "max_flow", equal=True),
        Order("max_tank_pressure", "max_pressure", equal=True),
    ),
    Filter: (
        Order("clean_drop", "bypass_pressure"),
        Order("nominal_flow", "max_flow", equal=True),
    ),
    Frame: (
        Order("stroke", "extended_length"),
        Order("barrel_length", "extended_length"),
    ),
    Oil: (Order("viscosity_100", "viscosity_40"),),
    Surroundings: (Order("cold_oil_temperature", "rated_oil_temperature"),),
    Day: (Order("start", "end"), Order("sunrise", "hottest_time")),
}
"""Rules of order within one part or one table."""


def order_faults(owner: type[Any], values: Mapping[str, Any], system: System) -> Iterator[Finding]:
    """Broken rules of order, each at its lower field; fields without a value are left out."""
    specs = quantities(owner)
    for order in ORDERS.get(owner, ()):
        low, high = values.get(order.lower), values.get(order.upper)
        applies = not order.where or (values.get(order.where) or 0.0) > 0.0
        if low is None or high is None or not applies:
            continue
        if low < high or (order.equal and low == high):
            continue
        spec = specs[order.lower]
        words = "at most" if order.equal else "less than"
        bound = show(high, specs[order.upper].kind, system)
        wanted = f"{words} {order.upper}, which is {bound}"
        yield Finding((order.lower,), show(low, spec.kind, system), wanted)


def rod_faults(
    rod: Mapping[str, float], bore: Mapping[str, float], system: System
) -> Iterator[Finding]:
    """Fault of a rod that does not go into its bore, for one machine."""
    inner, outer = rod.get("diameter"), bore.get("diameter")
    if inner is not None and outer is not None and inner >= outer:
        wanted = f"a rod smaller than the bore of {show(outer, 'length', system)}"
        yield Finding(("diameter",), f"a rod of {show(inner, 'length', system)}", wanted)


def contradictions(limits: list[tuple[int, Mapping[str, Any]]]) -> Iterator[Finding]:
    """Pairs of the study's own limits that no machine can keep; each limit with its position."""
    for _, low in limits:
        for position, high in limits:
            floor, ceiling = low.get("at_least"), high.get("at_most")
            same = low.get("result") is not None and low["result"] == high.get("result")
            if same and floor is not None and ceiling is not None and ceiling < floor:
                names = [quoted(str(limit.get("name"))) for limit in (high, low)]
                yield Finding(
                    ("user_limits", position),
                    f"{names[0]} at most below {names[1]} at least",
                    f"limits on {low['result']} that a machine can keep together",
                )
