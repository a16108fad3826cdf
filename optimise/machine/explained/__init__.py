"""One machine's calculation, chapter by chapter, as an engineer would check it by hand."""

from __future__ import annotations

import numpy as np

from optimise.machine.evaluation import Evaluation
from optimise.machine.explained.balance import cold_inlet, heat_balance, sizing, tank
from optimise.machine.explained.checks import limit_margins, strength_checks
from optimise.machine.explained.plant import cylinder, engine_loads, pump_data, rated_oil, site
from optimise.machine.explained.strokes import back_stroke, cycle, out_stroke, through_wood
from optimise.machine.explained.workings import Chapter, Workings
from optimise.machine.parts import Machine
from optimise.machine.setting import Setting


def write_out(machine: Machine, setting: Setting) -> tuple[Chapter, ...]:
    """Calculation of one machine, every field of it one number."""
    with np.errstate(all="ignore"):
        evaluation = Evaluation(machine, setting)
        work = Workings(evaluation)
        cylinder(work, evaluation)
        site(work, evaluation)
        rated_oil(work, evaluation)
        pump_data(work, evaluation)
        engine_loads(work, evaluation)
        if float(evaluation.solved):
            out_stroke(work, evaluation)
            back_stroke(work, evaluation)
            cycle(work, evaluation)
            through_wood(work, evaluation)
            heat_balance(work, evaluation)
        else:
            work.begin("Strokes, cycle and heat")
            work.end(
                "Left out: pump and circuit agree on no flow, so the ram does not move. Check "
                "bore, rod, pump and relief."
            )
        sizing(work, evaluation)
        tank(work, evaluation)
        cold_inlet(work, evaluation)
        strength_checks(work, evaluation)
        limit_margins(work, evaluation)
    return work.chapters
