"""Power and heat, sizing at the largest flow, tank and cold start."""

from __future__ import annotations

import numpy as np

from optimise.columns import Column
from optimise.machine.evaluation import HOT_LEVEL, Evaluation
from optimise.machine.explained.flow import SUCTION, all_ways, cylinder_flows, hose_drop
from optimise.machine.explained.plant import oil_at
from optimise.machine.explained.sources import DEFINITION, GEOMETRY, PISTON
from optimise.machine.explained.strokes import BALANCES
from optimise.machine.explained.workings import PASCAL_S, SOLVED, Workings
from optimise.machine.strokes import Strokes


def _piece(work: Workings, e: Evaluation, strokes: Strokes) -> None:
    """Time and shaft work of a piece with the oil at the temperature of ``strokes``."""
    shaft_work, period = e.piece_of(strokes)
    phases = (*strokes.out_phases, strokes.back_phase)
    for nth, phase in enumerate(phases):
        words = "back" if nth == len(phases) - 1 else f"out, level {nth}" if nth else "out, no log"
        work.take(f"t_{nth}", phase.time, "time")
        work.take(f"P_{nth}", phase.power, "power", f"{SOLVED}: shaft power, {words}")
    last = len(phases) - 1
    work.take("P_n", strokes.neutral.power, "power", f"{SOLVED}: shaft power in neutral")
    out = " + ".join(f"t_{nth}" for nth in range(last))
    overlap = "x_o" if float(e.machine.valve.detent_pressure) > 0.0 else "0"
    work.line(
        "t_piece",
        "Time from piece to piece" + ("" if overlap == "x_o" else " (no detent, no overlap)"),
        f"{out} + t_rev + t_{last} + t_hand - min(t_{last}, {overlap}*t_hand)",
        period,
        "time",
        DEFINITION,
    )
    done = " + ".join(f"t_{nth}*P_{nth}" for nth in range(last + 1))
    rest = " - ".join(f"t_{nth}" for nth in range(last + 1))
    work.line(
        "E",
        "Shaft work per piece, neutral in between",
        f"{done} + (t_piece - {rest})*P_n",
        shaft_work,
        "energy",
        DEFINITION,
    )


def heat_balance(work: Workings, e: Evaluation) -> None:
    """Mean power at the rating temperature, then heat in and out at the steady one."""
    hot = e.strokes_at(e.steady_temperature)
    work.begin("Mean power, at the rating temperature")
    work.given(t_hand="work.handling_time", x_o="work.overlapped_share", duty="surroundings.duty")
    _piece(work, e, e.rated)
    work.line("P_mean", "Mean shaft power", "E / t_piece", e.mean_power, "power", DEFINITION)
    work.end()
    work.begin(
        "Heat balance, at the steady temperature",
        "All shaft power that does not split wood heats the oil; what leaves goes with the "
        "temperature over the air.",
    )
    work.given(
        h_t="tank.heat_coefficient",
        A_t="tank.cooling_area",
        G_c="cooler.conductance",
        G_o="frame.other_cooling",
        T_air="surroundings.air_temperature",
    )
    work.line(
        "G",
        "Heat that leaves per kelvin",
        "h_t*A_t + G_c + G_o",
        e.cooling_conductance,
        "conductance",
        DEFINITION,
    )
    work.take("T", e.steady_temperature, "temperature", f"{SOLVED}; the balance below gives it")
    oil_at(work, hot)
    _piece(work, e, hot)
    count = len(hot.pushing)
    for nth, (force, _) in enumerate(hot.pushing, start=1):
        work.take(f"F_{nth}", force, "force", f"level {nth} of {count}")
    work.line(
        "W",
        "Work that goes into the wood, per piece",
        f"s*x/{count} * ({' + '.join(f'F_{nth}' for nth in range(1, count + 1))})",
        hot.wood_work,
        "energy",
        DEFINITION,
    )
    work.line(
        "P_heat",
        "Heat into the oil, splitting and waiting by the duty",
        "duty*(E - W)/t_piece + (1 - duty)*P_n",
        e.heat_of(hot),
        "power",
        DEFINITION,
    )
    work.line(
        "T_steady",
        "Steady oil temperature",
        "T_air + P_heat/G",
        e.steady_temperature,
        "temperature",
        "Temperature at which as much heat leaves as enters",
    )
    work.end()


def sizing(work: Workings, e: Evaluation) -> None:
    """Drops, speeds and inlet at the pump's largest flow, by which lines are sized."""
    rated = e.rated
    work.begin(
        "Sizing at the pump's largest flow, on the way back",
        "As the trade sizes lines: no leakage, no load on the engine.",
    )
    work.same(Q="Q_max")
    work.take("rho", rated.density, "density")
    work.take("nu", rated.kinematic_viscosity, "viscosity")
    work.take("mu", rated.dynamic_viscosity, PASCAL_S)
    into, out_of = cylinder_flows(work, e, "back")
    all_ways(work, rated, into, out_of)
    work.line(
        "p_detent",
        "Pressure that the return detent has to hold",
        BALANCES["back"],
        e.detent_demand,
        "pressure",
        PISTON,
    )
    gain = ""
    if float(e.machine.valve.regen_pressure) > 0.0:
        gain = " * A_cap/A_rod"
    work.line(
        "u_out",
        "Largest ram speed out",
        f"Q_max / A_cap{gain}",
        e.largest_extend_speed,
        "speed",
        DEFINITION,
    )
    work.line(
        "u_back",
        "Largest ram speed back",
        "Q_max / A_ann",
        e.largest_retract_speed,
        "speed",
        DEFINITION,
    )
    hose_drop(work, SUCTION, rated.suction_line, "Q_max", "_suc")
    _inlet(work, e.inlet_pressure, "warm")
    work.end()


def _inlet(work: Workings, value: Column, words: str) -> None:
    work.given(H="frame.suction_head")
    work.line(
        "p_inlet",
        f"Absolute pressure at the pump inlet, {words}",
        "p_atm + rho*9.80665*H - k_loss*dp_suc",
        value,
        "pressure",
        "hydrostatics",
    )


def tank(work: Workings, e: Evaluation) -> None:
    """Oil, its stay, swing with the rod, room for warm oil."""
    work.begin("Tank")
    work.given(
        V_t="tank.volume", x_fill="frame.fill_share", T_c="surroundings.cold_oil_temperature"
    )
    work.line("V_oil", "Oil in the tank", "V_t * x_fill", e.oil_volume, "volume", DEFINITION)
    work.line(
        "t_stay",
        "Stay of the oil in the tank",
        "V_oil / Q_max",
        e.residence_time,
        "time",
        DEFINITION,
    )
    work.line("V_rod", "Swing with the rod", "A_rod * s", e.rod_swing, "volume", GEOMETRY)
    work.line(
        "x_swing", "Swing over the oil", "V_rod / V_oil", e.rod_swing_share, "share", DEFINITION
    )
    work.line(
        "x_air",
        f"Use of the air space by oil of {HOT_LEVEL - 273.15:g} degC and rod",
        f"(V_oil*beta*max({HOT_LEVEL} - T_c, 0) + V_rod) / (V_t - V_oil)",
        e.air_space_use,
        "share",
        DEFINITION,
    )
    work.end()


def cold_inlet(work: Workings, e: Evaluation) -> None:
    """Oil and pump inlet at the cold start."""
    work.begin(
        "Pump inlet at the cold start",
        "Pressure and engine load of the cold start are solved like the strokes above; `check` and "
        "`day` show them.",
    )
    work.given(
        T="surroundings.cold_oil_temperature",
        w_cold="surroundings.cold_engine_speed",
        k_loss="constants.loss_factor",
    )
    strokes = e.cold.strokes
    oil_at(work, strokes)
    share = np.minimum(
        e.setting.surroundings.cold_engine_speed / e.machine.engine.no_load_speed, 1.0
    )
    work.line(
        "Q_cold",
        "Largest flow at the warm-up speed",
        "Q_max * min(w_cold/w_0, 1)",
        e.largest_flow * share,
        "flow",
        DEFINITION,
    )
    hose_drop(work, SUCTION, strokes.suction_line, "Q_cold", "_suc")
    _inlet(work, e.cold_inlet_pressure, "cold")
    work.end()
