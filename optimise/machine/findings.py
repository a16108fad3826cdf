"""What a builder would want said in words about a machine, with the numbers that say it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from optimise.columns import Column

GAP = re.compile(r"\{([\w.]+)\}")
"""A gap of a template: the key of a result."""


@dataclass(frozen=True)
class Finding:
    """One thing to say.

    Attributes
    ----------
    key
        Name for programs.
    result, below
        It is said where this result is less than this value.
    template
        Sentence with a ``{result key}`` gap for each number.
    """

    key: str
    result: str
    below: float
    template: str

    def holds(self, results: Mapping[str, Column]) -> bool:
        """Whether it is to be said of one machine."""
        return float(results[self.result]) < self.below

    def sentence(self, written: Callable[[str], str]) -> str:
        """Sentence with its gaps filled; ``written`` gives the words of a result key."""
        return GAP.sub(lambda gap: written(gap.group(1)), self.template)


FINDINGS: tuple[Finding, ...] = (
    Finding(
        "slow_back",
        "stage.retract_high",
        1.0,
        "The back stroke loses time because the pump drops to its small section: both sections "
        "work for {stage.retract_high} of its time. At full flow it would need "
        "{pressure.retract_demand_Pa} against a shift pressure of {pressure.shift_Pa}. The cap end "
        "sends back {flow.return_ratio} times the oil that the pump delivers, and its "
        "back-pressure counts as often again at the rod end. A wider return hose, a larger filter "
        "or valve, or a smaller rod brings the full flow back.",
    ),
    Finding(
        "slow_out",
        "stage.extend_high",
        1.0,
        "The out stroke loses time even without a log because the pump drops to its small section: "
        "both sections work for {stage.extend_high} of its time. At full flow it would need "
        "{pressure.extend_demand_Pa} against a shift pressure of {pressure.shift_Pa}. Wider hoses "
        "or a larger valve bring the full flow back.",
    ),
)
"""Findings in the order in which they are said."""
