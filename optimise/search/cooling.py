"""Which listed tanks and coolers keep the oil of one machine cool enough over the working day."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from optimise.columns import Array, flattened
from optimise.machine.day import peak_temperatures
from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import Cooler, Machine, Tank, take
from optimise.machine.sheet import sheet_of
from optimise.study.model import Study


@dataclass(frozen=True)
class CoolingChoices:
    """The machine with each listed tank and each listed cooler; columns, cheapest first.

    Attributes
    ----------
    tanks, coolers
        Names of the parts.
    conductance
        Of tank, cooler and hoses [W/K].
    peak, steady
        Hottest oil of the day, and steady oil temperature in the air of the surroundings [K].
    outlay
        Of the whole machine, in the study's currency.
    enough
        Where peak and steady temperature stay under the limits on hot oil.
    feasible
        Where every hard limit of the machine is kept.
    binding
        Hard limit with the least margin.
    """

    tanks: tuple[str, ...]
    coolers: tuple[str, ...]
    conductance: Array
    peak: Array
    steady: Array
    outlay: Array
    enough: NDArray[np.bool_]
    feasible: NDArray[np.bool_]
    binding: NDArray[np.str_]

    def __len__(self) -> int:
        return len(self.tanks)


def cooling_choices(study: Study, machine: Machine) -> CoolingChoices:
    """All pairs of a listed tank and a listed cooler on a machine.

    Each cooler's own drop counts, and each tank's oil and wall. Lists are taken whole, whatever a
    search may use of them.
    """
    setting = study.setting
    tanks, coolers = study.lists["tank"], study.lists["cooler"]
    tank_parts, cooler_parts = cast(Tank, tanks.parts), cast(Cooler, coolers.parts)
    count, kinds = len(tanks.names), len(coolers.names)
    peaks = [
        peak_temperatures(
            replace(machine, cooler=take(cooler_parts, np.intp(nth))), tank_parts, setting
        )
        for nth in range(kinds)
    ]
    nth_cooler, nth_tank = np.divmod(np.arange(kinds * count), count)
    fitted = replace(
        machine, tank=take(tank_parts, nth_tank), cooler=take(cooler_parts, nth_cooler)
    )
    column = flattened(fitted, (kinds * count,))
    evaluation, sheet = Evaluation(column, setting), sheet_of(column, setting)
    peak = np.concatenate(peaks)
    steady = np.asarray(evaluation.steady_temperature)
    outlay = sheet.results["cost.outlay"]
    conductance = np.asarray(evaluation.cooling_conductance)
    order = np.lexsort((-conductance, outlay))
    hottest = np.asarray(evaluation.hottest_kept)
    return CoolingChoices(
        tanks=tuple(tanks.names[nth] for nth in nth_tank[order]),
        coolers=tuple(coolers.names[nth] for nth in nth_cooler[order]),
        conductance=conductance[order],
        peak=peak[order],
        steady=steady[order],
        outlay=outlay[order],
        enough=((peak <= hottest) & (steady <= hottest))[order],
        feasible=sheet.feasible[order],
        binding=sheet.binding[order],
    )
