"""Stages, strokes, reversals and the way through wood."""

from __future__ import annotations

import numpy as np

from optimise.machine.circuit import OperatingPoint
from optimise.machine.evaluation import Evaluation
from optimise.machine.explained.flow import all_ways, cylinder_flows, drive_at
from optimise.machine.explained.sources import DEFINITION, PISTON, PROJECT
from optimise.machine.explained.workings import SOLVED, Workings
from optimise.machine.strokes import HUNTING, LOW, REGENERATIVE, RIPPLE


def _point(work: Workings, e: Evaluation, point: OperatingPoint) -> None:
    """Engine, pump and flow of a stroke at the pressure found."""
    rated = e.rated
    work.take("p", point.pressure, "pressure", f"{SOLVED}; the balance below gives it again")
    work.same(p_found="p")
    share = float(point.high_stage)
    if 0.0 < share < 1.0:
        work.take("Q", point.flow, "flow", f"{SOLVED}; the balance below holds with it")
        drive_at(work, rated.high_drive, "p_found", "_b", high=True)
        drive_at(work, rated.low_drive, "p_found", "_s", high=False)
        work.line(
            "h",
            "Share of the time with both sections at work",
            "(Q - Q_p_s) / (Q_p_b - Q_p_s)",
            point.high_stage,
            "share",
            "the unloader goes to and fro so that the mean flow is what the circuit takes",
        )
        work.line(
            "w",
            "Engine speed, mean",
            "h*w_b + (1 - h)*w_s",
            point.speed,
            "rotation",
            DEFINITION,
        )
        work.line(
            "P",
            "Shaft power, mean",
            "h*T_b*w_b + (1 - h)*T_s*w_s",
            point.power,
            "power",
            DEFINITION,
        )
        return
    high = share > 0.0
    drive = rated.high_drive if high else rated.low_drive
    drive_at(work, drive, "p_found", "", high=high)
    work.line("P", "Shaft power", "T * w", point.power, "power", DEFINITION)
    spilled = float(drive.flow(point.pressure)) - float(point.flow)
    if spilled > 1e-6 * float(e.largest_flow):
        work.take("Q", point.flow, "flow", f"{SOLVED}: what the circuit takes at relief")
        return
    work.line("Q", "Flow: pump and circuit agree", "Q_p", point.flow, "flow", f"{SOLVED} to 1e-10")


BALANCES = {
    "out": "F_drag/A_cap + dp_press + dp_in + (dp_out + dp_tank)*A_ann/A_cap",
    "joined": "F_drag/A_rod + dp_press + dp_in*A_cap/A_rod + dp_out*A_ann/A_rod",
    "back": "F_drag/A_ann + dp_press + dp_in + (dp_out + dp_tank)*phi",
}
"""Pump pressure of each stroke: back-pressure counts with the ratio of the areas."""


def _stroke(work: Workings, e: Evaluation, point: OperatingPoint, way: str) -> None:
    """Operating point, flows, drops and balance of a stroke without a log."""
    _point(work, e, point)
    into, out_of = cylinder_flows(work, e, way)
    all_ways(work, e.rated, into, out_of, to_tank=way != "joined")
    if way == "back":
        work.line(
            "p_back",
            "Pressure left in the cap end",
            "dp_out + dp_tank",
            e.cap_back_pressure,
            "pressure",
            DEFINITION,
        )
    work.line("p", "Pump pressure", BALANCES[way], point.pressure, "pressure", PISTON)
    near = {"out": "A_cap", "joined": "A_rod", "back": "A_ann"}[way]
    work.line("u", "Ram speed", f"Q / {near}", point.velocity, "speed", DEFINITION)


def _stage(work: Workings, e: Evaluation, way: str, title: str) -> None:
    """The pressure that both sections' flow would need, and what the unloader makes of it."""
    rated, ram, plant = e.rated, e.ram, e.plant
    path, area, point = {
        "out": (rated.extend_path, ram.cap_area, rated.extend),
        "joined": (rated.regenerative_path, ram.rod_area, rated.extend),
        "back": (rated.retract_path, ram.annulus_area, rated.retract),
    }[way]
    load = ram.drag / area
    work.begin(title, "Would both sections' flow at the shift pressure need more than that?")
    drive_at(work, rated.high_drive, "p_shift", "", high=True)
    work.same(Q="Q_p")
    into, out_of = cylinder_flows(work, e, way)
    all_ways(work, rated, into, out_of, to_tank=way != "joined")
    needed = rated.high_stage_demand(path, load)
    work.line(
        "p_full", "Pressure that the full flow needs", BALANCES[way], needed, "pressure", PISTON
    )
    over = float(needed) > float(plant.shift_pressure)
    mode = float(point.mode)
    if over and bool(np.asarray(plant.two_stage)) and way != "joined":
        flow = rated.low_drive.flow(plant.reload_pressure)
        work.take("dp_alone", path.drop(flow), "pressure", "whole way at the small section's flow")
        near = "A_cap" if way == "out" else "A_ann"
        work.line(
            "p_alone",
            "Pressure that the small section alone keeps",
            f"F_drag/{near} + dp_alone",
            load + path.drop(flow),
            "pressure",
            PISTON,
        )
    if over and not bool(np.asarray(plant.two_stage)):
        work.end("p_full is over the relief setting: the relief valve takes what is left over.")
        return
    work.end(_stage_words(mode, over=over, way=way))


def _stage_words(mode: float, *, over: bool, way: str) -> str:
    if way == "joined":
        return (
            "The rod end's oil joins the cap end: the need is under the switch-over and the shift."
            if mode == REGENERATIVE
            else "The need is over the switch-over or the shift: the rod end empties to the tank."
        )
    if not over:
        return "p_full is at most p_shift: both sections stay at work."
    if mode == HUNTING:
        return (
            "p_full is over p_shift, and the small section alone cannot keep the pump over "
            f"p_reload + {RIPPLE} * p_shift: the unloader goes to and fro, at the mean of p_shift "
            "and p_reload."
        )
    return "p_full is over p_shift: the pump drops to its small section."


def out_stroke(work: Workings, e: Evaluation) -> None:
    """Stage and operating point of the out stroke without a log."""
    point = e.rated.extend
    joined = float(point.mode) == REGENERATIVE
    switch = float(e.machine.valve.regen_pressure)
    if switch > 0.0:
        _stage(work, e, "joined", "Way of the out stroke, regenerative")
    if not joined:
        _stage(work, e, "out", "Stage of the out stroke")
    work.begin("Out stroke, no log", "Flow and pressure are found together: each gives the other.")
    _stroke(work, e, point, "joined" if joined else "out")
    work.line("t_out", "Out", "s / u", e.extend_time, "time", DEFINITION)
    work.same(u_out="u", p_out="p", Q_out="Q_rod", p_rodback="p" if joined else "dp_tank")
    work.end()


def back_stroke(work: Workings, e: Evaluation) -> None:
    """Stage and operating point of the back stroke."""
    _stage(work, e, "back", "Stage of the back stroke")
    work.begin("Back stroke", "Flow and pressure are found together: each gives the other.")
    _stroke(work, e, e.rated.retract, "back")
    work.line("t_back", "Back", "s / u", e.retract_time, "time", DEFINITION)
    work.same(u_back="u")
    work.end()


def cycle(work: Workings, e: Evaluation) -> None:
    """Reversals and the whole cycle."""
    work.begin("Reversals and cycle")
    work.given(
        B_oil="oil.bulk_modulus",
        a="oil.air_share",
        m_f="frame.moving_mass",
        rho_st="constants.steel_density",
        L_p="lines.pressure.length",
        L_w="lines.work.length",
        L_r="lines.return_line.length",
        d_p="pressure_hose.inner_diameter",
        d_w="work_hoses.inner_diameter",
        d_ret="return_hose.inner_diameter",
        t_shift="valve.shift_time",
        k_rev="constants.reversal_factor",
    )
    work.take("rho", e.rated.density, "density")
    for reversal, point, tag, near, far in (
        (e.extend_reversal, e.rated.extend, "out", "A_cap", "A_ann"),
        (e.retract_reversal, e.rated.retract, "back", "A_ann", "A_cap"),
    ):
        before = f"before the {tag} stroke"
        work.take("p_far", reversal.back_pressure, "pressure", "far end, at the stroke's flow")
        work.take("p", point.pressure, "pressure")
        work.line(
            "B_e",
            f"Stiffness of the oil in the far end, {before}",
            "1 / (a/(1.4*(p_far + p_atm)) + (1 - a)/B_oil)",
            reversal.bulk_modulus,
            "modulus",
            "Rabie, Fluid Power Engineering (2009), eq. 2.57",
        )
        work.line(
            "t_sq",
            f"Squeezing the far end, {before}",
            f"p_far * {far}*s / B_e / (u_{tag} * {far})",
            reversal.settling,
            "time",
            DEFINITION,
        )
        work.line(
            "m",
            f"Mass of ram and oil as the ram feels it, {before}",
            "m_f + rho_st*A_rod*s"
            f" + rho*({near}^2*(L_p/(pi/4*d_p^2) + L_w/(pi/4*d_w^2))"
            f" + {far}^2*(L_w/(pi/4*d_w^2) + L_r/(pi/4*d_ret^2)))",
            reversal.mass,
            "mass",
            DEFINITION,
        )
        area = "A_rod" if tag == "out" and float(point.mode) == REGENERATIVE else near
        work.line(
            "t_st",
            f"Starting it, {before}",
            f"m * u_{tag} / (max(p_relief - p, 0.01*p_relief) * {area})",
            reversal.starting,
            "time",
            "momentum",
        )
        work.same(**{f"t_sq_{tag}": "t_sq", f"t_st_{tag}": "t_st"})
    work.line(
        "t_rev",
        "Both reversals",
        "k_rev * (2*t_shift + t_sq_out + t_sq_back + t_st_out + t_st_back)",
        e.reversal_time,
        "time",
        PROJECT,
    )
    work.line(
        "t_cycle", "Cycle without a log", "t_out + t_back + t_rev", e.cycle_time, "time", DEFINITION
    )
    work.end()


def through_wood(work: Workings, e: Evaluation) -> None:
    """Out stroke through each level of the wood mix."""
    rated = e.rated
    count = len(rated.pushing)
    work.begin(
        "Through the mean piece of the wood mix",
        f"The mix is reduced to {count} force levels of equal travel; flows are found by search.",
    )
    work.take("x", e.levels.loaded_share, "share", "share of the stroke in wood, mean of the mix")
    work.line(
        "t_0",
        "Before and after the wood",
        "(1 - x) * t_out",
        rated.out_phases[0].time,
        "time",
        DEFINITION,
    )
    for nth, (force, point) in enumerate(rated.pushing, start=1):
        joined = float(point.mode) == REGENERATIVE
        path = rated.regenerative_path if joined else rated.extend_path
        near = "A_rod" if joined else "A_cap"
        stage = _stage_name(float(point.mode))
        work.take("F_w", force, "force", f"level {nth} of {count}")
        work.take("dp", path.drop(point.flow), "pressure", "whole way at this flow")
        work.take("Q", point.flow, "flow")
        work.line(
            "p",
            f"Pump pressure, level {nth} ({stage})",
            f"(F_drag + F_w)/{near} + dp",
            point.pressure,
            "pressure",
            PISTON,
        )
        work.line(
            f"t_{nth}",
            f"Time, level {nth}",
            f"s*x/{count} * {near} / Q",
            rated.out_phases[nth].time,
            "time",
            DEFINITION,
        )
    work.line(
        "t_wood",
        "Out through the mean piece",
        " + ".join(f"t_{nth}" for nth in range(count + 1)),
        rated.loaded_extend_time,
        "time",
        DEFINITION,
    )
    work.line(
        "t_loaded",
        "Cycle through wood",
        "t_wood + t_back + t_rev",
        e.loaded_cycle_time,
        "time",
        DEFINITION,
    )
    work.end()


def _stage_name(mode: float) -> str:
    names = {LOW: "small section", HUNTING: "to and fro", REGENERATIVE: "regenerative"}
    return names.get(mode, "both sections")
