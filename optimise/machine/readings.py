"""Readings of many machines, worked out together: as machine code where there are many."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from typing import Any

from optimise.columns import Column, Mask
from optimise.compiled.kernels import Compiled
from optimise.machine.evaluation import Evaluation
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting
from optimise.machine.wood import WorkLevels

_Whole = tuple[Machine, Setting, WorkLevels, tuple[Any, ...]]

WORTH = 15_000
"""Machines from which it pays to compile all of the model: that takes some 0.25 s."""
MUCH = 250_000
"""Machines from which it pays to compile it for speed: 0.7 s, and 1.5 times as quick."""
KEPT = 8
"""Questions that are remembered with what was compiled for them."""


def corner_rise(evaluation: Evaluation) -> Column:
    """What the oil would warm by if all hydraulic power went into it [K]: about how hot it runs.

    The hotter, the more steps the search for the steady temperature takes.
    """
    power = evaluation.machine.valve.relief_pressure * evaluation.largest_flow
    return power / evaluation.cooling_conductance


class Readings:
    """What is asked of machines; the answers have the same bits compiled or not.

    Parameters
    ----------
    readings
        What is asked, of an evaluation and whatever is given besides.
    """

    def __init__(self, readings: Sequence[Callable[..., Column | Mask]]) -> None:
        def read(whole: _Whole) -> tuple[Any, ...]:
            machine, setting, levels, besides = whole
            evaluation = Evaluation(machine, setting, levels)
            return tuple(reading(evaluation, *besides) for reading in readings)

        def rise(whole: _Whole) -> Column:
            machine, setting, levels, _ = whole
            return corner_rise(Evaluation(machine, setting, levels))

        self._read = Compiled(read, WORTH, MUCH, rise, values=True)

    def of(
        self, machine: Machine, setting: Setting, levels: WorkLevels, *besides: Any
    ) -> tuple[Column, ...]:
        """Each reading of a column of machines.

        Parameters
        ----------
        machine, setting, levels
            As for :class:`~optimise.machine.evaluation.Evaluation`.
        besides
            Trees of columns.
        """
        return self._read((machine, setting, levels, besides))


_one_at_a_time = threading.Lock()
_kept: OrderedDict[Any, tuple[Setting, Readings]] = OrderedDict()


def readings_for(
    setting: Setting, name: Hashable, ask: Callable[[], Sequence[Callable[..., Column | Mask]]]
) -> Readings:
    """Readings in a setting that were asked for by the same name before, or new ones.

    Parameters
    ----------
    setting
        What the readings rest on besides; the same object.
    name
        Tells them from others in that setting.
    ask
        Makes the readings.
    """
    key = id(setting), name
    made = setting, Readings(ask())
    with _one_at_a_time:
        _kept.setdefault(key, made)
        _kept.move_to_end(key)
        if len(_kept) > KEPT:
            _kept.popitem(last=False)
        return _kept[key][1]
