"""A study as it is after loading: checked, in SI, with a price list for each part category."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

from optimise.machine.parts import Part
from optimise.machine.quantities import quantity
from optimise.machine.setting import Money, Setting
from optimise.units import System, show

MEASURED: dict[str, str] = {
    "extend_time": "time",
    "retract_time": "time",
    "cycle_time": "time",
    "loaded_cycle_time": "time",
    "oil_temperature": "temperature",
    "engine_speed": "rotation",
    "extend_pressure": "pressure",
    "retract_pressure": "pressure",
}
"""What may be measured on the machine, and the kind of unit of each."""

MEASURED_RESULTS: dict[str, str] = {
    "extend_time": "cycle.extend_s",
    "retract_time": "cycle.retract_s",
    "cycle_time": "cycle.total_s",
    "loaded_cycle_time": "cycle.loaded_total_s",
    "oil_temperature": "oil.steady_degC",
    "engine_speed": "engine.speed_rpm",
    "extend_pressure": "pressure.extend_pump_Pa",
    "retract_pressure": "pressure.retract_pump_Pa",
}
"""Key of the result that predicts each kind of measurement."""


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One reading taken on the machine owned.

    Attributes
    ----------
    kind
        A key of :data:`MEASURED`.
    value
        Mean of the readings, SI; a temperature in kelvin.
    uncertainty
        Standard uncertainty of one reading, SI: how far one reading scatters about the truth.
    repeats
        Number of readings behind the mean; they divide the variance.
    note
        Words of the person who measured.
    """

    kind: str
    value: float
    uncertainty: float
    repeats: int = 1
    note: str = ""

    @property
    def mean_uncertainty(self) -> float:
        """Standard uncertainty of the mean: that of one reading over the root of the repeats."""
        return self.uncertainty / math.sqrt(self.repeats)

    def written(self, system: System) -> str:
        """Mean and its standard uncertainty with their unit, such as "7.92 s ± 0.025 s"."""
        kind = MEASURED[self.kind]
        wide = "temperature_difference" if kind == "temperature" else kind
        mean = show(self.value, kind, system)
        return f"{mean} ± {show(self.mean_uncertainty, wide, system, 2)}"


@dataclass(frozen=True, kw_only=True)
class Buyers:
    """A group of buyers alike: what the machine that they buy must do, and for how much.

    Attributes
    ----------
    name
        Words for a person.
    wood
        Class of the wood mix that they split, "" when ``least_force`` says it all.
    """

    name: str
    number: float = quantity("count", "number", "machines that they buy while the stock lasts")
    longest_cycle: float = quantity(
        "time", "longest cycle", "out and back without a log, both reversals included"
    )
    highest_price: float = quantity("money", "highest price", "what they pay at most")
    least_force: float = quantity(
        "force", "least force", "at the relief pressure", lowest=0.0, default=0.0
    )
    wood: str = ""
    unsplit_share: float = quantity(
        "share",
        "unsplit pieces",
        "share of the pieces of that wood that may stop the ram",
        lowest=1e-6,
        highest=0.5,
        default=0.1,
    )


@dataclass(frozen=True, kw_only=True)
class Lineup:
    """What a line of models costs besides the parts of the machines sold.

    Attributes
    ----------
    leave_out
        Names by category that no new machine is built with, such as a part that only the machine
        owned can be turned into.
    """

    stock: float = quantity(
        "count",
        "stock",
        "pieces of each different part that lie in stock, however many models use it; common "
        "practice, no source",
        lowest=0.0,
        default=1.0,
    )
    model_cost: float = quantity(
        "money",
        "cost of a model",
        "what one more model costs by itself: drawings, jigs, manual, approval",
        lowest=0.0,
        default=0.0,
    )
    leave_out: dict[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class PriceList:
    """Parts of one category.

    Attributes
    ----------
    category
        A key of ``CATEGORIES``.
    names
        Names of the n parts, in the order of the file.
    parts
        Their data, every field a column of shape (n,), ``outlay`` included.
    """

    category: str
    names: tuple[str, ...]
    parts: Part


@dataclass(frozen=True, kw_only=True)
class Study:
    """Everything that a question is asked about.

    Attributes
    ----------
    name, title, notes
        Words for a person.
    folder
        Where study.toml and its price lists stand.
    system
        Unit system in which answers are shown.
    currency, price_date
        Of every price; the date as YYYY-MM-DD, "" when not stated.
    setting
        All that is not a part.
    lists
        Price list of each category, in the order of ``CATEGORIES``.
    owned
        Part of each category that is on the machine today.
    fitted
        Part of each category on the machine asked about: those owned, with parts put on for this
        call.
    overrides
        Fields of fitted parts changed for this call, by category and field, SI.
    allowed
        Names that a search may use, for each category, in list order.
    measurements
        Readings taken on the machine owned.
    buyers
        Groups of buyers of new machines, with what a line of models costs in ``lineup``.
    changes
        Changes for this call, as they were written.
    fingerprint
        SHA-256 over all that answers depend on; words and unit system do not count.
    corrected
        Whether the constants are those fitted to the measurements instead of the study's own.
    """

    name: str
    title: str
    folder: Path
    system: System
    currency: str
    price_date: str
    setting: Setting
    lists: dict[str, PriceList]
    owned: dict[str, str]
    fitted: dict[str, str]
    overrides: dict[str, dict[str, float]]
    allowed: dict[str, tuple[str, ...]]
    measurements: tuple[Measurement, ...]
    buyers: tuple[Buyers, ...]
    lineup: Lineup
    notes: str
    fingerprint: str
    changes: tuple[str, ...] = ()
    corrected: bool = False

    @property
    def money(self) -> Money:
        """Rates and margin of the setting."""
        return self.setting.money
