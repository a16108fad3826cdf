"""Strength, and the margin of every limit."""

from __future__ import annotations

from optimise.machine.evaluation import Evaluation
from optimise.machine.explained.sources import DEFINITION, GEOMETRY
from optimise.machine.explained.workings import Workings
from optimise.machine.limits import Limit, limits_of
from optimise.physics import strength

SHIGLEY = "Shigley, 9th ed., eqs. 4-44 and 4-46"


def strength_checks(work: Workings, e: Evaluation) -> None:
    """Rod as a column and in plain stress, barrel under pressure."""
    frame = e.setting.frame
    work.begin("Strength at relief pressure")
    work.given(
        l="frame.extended_length",
        E_st="constants.elastic_modulus",
        S_y="rod.yield_strength",
        S_b="bore.yield_strength",
        t_w="bore.wall",
        l_b="frame.barrel_length",
    )
    mounting = strength.MOUNTING_FACTORS[frame.mounting]
    work.take("C_m", mounting, "count", f"frame.mounting = {frame.mounting}")
    if frame.column == "stepped":
        work.line(
            "r",
            "Stiffness of the barrel over that of the rod",
            "((D + 2*t_w)^4 - D^4) / d_r^4",
            e.stiffness_ratio,
            "count",
            GEOMETRY,
        )
        work.line(
            "K",
            "Gain by the stiffer barrel (smallest root above 0)",
            "(1 + 1/sqrt(r))*sin((1 - l_b/l + l_b/l/sqrt(r))*pi*sqrt(K))"
            " = (1 - 1/sqrt(r))*sin((1 - l_b/l - l_b/l/sqrt(r))*pi*sqrt(K))",
            e.stiffening,
            "count",
            "Timoshenko and Gere, Theory of Elastic Stability",
        )
    else:
        work.take("K", e.stiffening, "count", "frame.column = rod_only")
    work.line("C", "End-condition constant", "K * C_m", e.end_condition, "count", DEFINITION)
    part = e.machine.rod
    slender = strength.slenderness(frame.extended_length, part.diameter)
    limit = strength.transition_slenderness(
        e.setting.constants.elastic_modulus, part.yield_strength, e.end_condition
    )
    work.line("lam", "Slenderness", "4*l / d_r", slender, "count", GEOMETRY)
    work.line(
        "lam_t",
        "Slenderness from which Euler governs",
        "sqrt(2*pi^2 * C * E_st / S_y)",
        limit,
        "count",
        "Shigley, 9th ed., section 4-13",
    )
    euler = float(slender) > float(limit)
    work.line(
        "F_cr",
        f"Buckling load ({'Euler' if euler else 'Johnson'})",
        "A_rod * C * pi^2 * E_st / lam^2"
        if euler
        else "A_rod * (S_y - (S_y*lam/(2*pi))^2 / (C*E_st))",
        e.critical_load,
        "force",
        SHIGLEY,
    )
    work.line("n_b", "Factor against buckling", "F_cr / F", e.buckling_factor, "count", DEFINITION)
    work.line(
        "sig_r",
        "Direct stress in the rod",
        "F / A_rod",
        strength.axial_stress(e.force, part.diameter),
        "pressure",
        DEFINITION,
    )
    work.line(
        "n_r", "Factor against yield, rod", "S_y / sig_r", e.rod_stress_factor, "count", DEFINITION
    )
    tube, relief = e.machine.bore, e.machine.valve.relief_pressure
    work.line(
        "sig_h",
        "Hoop stress at the bore",
        "p_relief * ((D/2 + t_w)^2 + (D/2)^2) / ((D/2 + t_w)^2 - (D/2)^2)",
        strength.lame_hoop_stress(relief, tube.diameter, tube.wall),
        "pressure",
        "Lame",
    )
    work.line(
        "sig_v",
        "Equivalent stress at the bore, ends closed",
        "sqrt(3) * p_relief * (D/2 + t_w)^2 / ((D/2 + t_w)^2 - (D/2)^2)",
        strength.von_mises_barrel(relief, tube.diameter, tube.wall),
        "pressure",
        "von Mises' rule",
    )
    work.line(
        "n_w", "Factor against yield, barrel", "S_b / sig_v", e.barrel_factor, "count", DEFINITION
    )
    work.end()


def limit_margins(work: Workings, e: Evaluation) -> None:
    """Margin of every limit that holds in the setting."""
    work.begin(
        "Limits: margin as a share of the bound, below 0 is crossed",
        "x is what is held against the bound b.",
    )
    for limit in limits_of(e.setting):
        if limit.name != "solution_found" or not float(e.solved):
            _limit(work, e, limit)
    work.end()


def _limit(work: Workings, e: Evaluation, limit: Limit) -> None:
    work.take("x", limit.value(e), limit.unit, otherwise="as check shows it")
    work.take("b", limit.bound(e), limit.unit, otherwise="bound")
    left = "b - x" if limit.sense == "at most" else "x - b"
    datum = f" - {limit.datum:g}" if limit.datum else ""
    work.line(
        "margin",
        f"{limit.title} ({limit.name}, {limit.kind}, {limit.sense})",
        f"({left}) / abs(b{datum})",
        limit.margin(e),
        "share",
        limit.source,
    )
