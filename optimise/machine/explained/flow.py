"""One flow through pump, hoses, valve, cooler and filter: every drop of it."""

from __future__ import annotations

from dataclasses import dataclass

from optimise.machine.circuit import Drive, Path
from optimise.machine.evaluation import Evaluation
from optimise.machine.explained.plant import shaft_load
from optimise.machine.explained.sources import (
    DEFINITION,
    HAALAND,
    HOOPER,
    PISTON_FLOW,
    PROJECT,
    TORQUE,
    WILSON,
)
from optimise.machine.explained.workings import Workings
from optimise.machine.strokes import Strokes
from optimise.physics import lines, pump


def drive_at(work: Workings, drive: Drive, pressure: str, tag: str, *, high: bool) -> None:
    """Engine speed and pump flow at the pressure of a symbol."""
    shaft_load(work, drive, pressure, tag, high=high)
    value = work.value("p")
    speed = drive.speed(value)
    if float(speed) >= float(drive.rated_speed):
        work.line(
            f"w{tag}",
            "Engine speed, on the governor",
            f"(w_0 - (w_0 - w_r)/T_r*T_p{tag}) / (1 + (w_0 - w_r)/T_r*k{tag})",
            speed,
            "rotation",
            "governor falls straight from no-load to rated speed",
        )
    elif float(drive.torque(value, speed)) > float(drive.peak_torque):
        work.line(
            f"w{tag}",
            "Engine speed: asked for more than its peak torque it stalls; reckoned with",
            "w_pk",
            speed,
            "rotation",
            PROJECT,
        )
    else:
        work.line(
            f"w{tag}",
            "Engine speed, pulled down on its full-load curve: asked and given torque agree",
            f"T_p{tag} + k{tag}*w{tag} = T_pk - (T_pk - T_r)*((w{tag} - w_pk)/(w_r - w_pk))^2",
            speed,
            "rotation",
            "Common practice where only two points of the curve are known",
        )
    work.line(
        f"T{tag}",
        "Engine torque",
        f"T_p{tag} + k{tag}*w{tag}",
        drive.torque(value, speed),
        "torque",
        TORQUE,
    )
    volume = "V_both" if high else "V_small"
    work.line(
        f"Q_id{tag}",
        "Flow without leakage",
        f"{volume} * c_Q*i*w{tag} / (2*pi)",
        pump.ideal_flow(drive.displacement, drive.pump_speed(value)),
        "flow",
        DEFINITION,
    )
    work.line(
        f"Q_leak{tag}",
        "Leakage",
        f"C_s * {volume} * p / (mu * 2*pi)",
        pump.slip_flow(drive.displacement, value, drive.dynamic_viscosity, drive.slip),
        "flow",
        WILSON,
    )
    work.line(
        f"Q_p{tag}",
        "Flow that the pump delivers",
        f"Q_id{tag} - Q_leak{tag}",
        drive.flow(value),
        "flow",
        DEFINITION,
    )


@dataclass(frozen=True)
class _Hose:
    """A hose with its fittings: key of its line, category of its part, words."""

    line: str
    category: str
    words: str


SUCTION = _Hose("suction", "suction_hose", "suction hose")
_PRESSURE = _Hose("pressure", "pressure_hose", "pressure hose")
_WORK_IN = _Hose("work", "work_hoses", "work hose to the cylinder")
_WORK_OUT = _Hose("work", "work_hoses", "work hose from the cylinder")
_RETURN = _Hose("return_line", "return_hose", "return hose")


def hose_drop(work: Workings, hose: _Hose, path: Path, flow: str, tag: str) -> None:
    """Velocity, Reynolds number, friction factor and drop of one hose, ``dp{tag}`` at the end."""
    work.given(
        d=f"{hose.category}.inner_diameter",
        L=f"lines.{hose.line}.length",
        n=f"lines.{hose.line}.turns",
        eps="constants.hose_roughness",
        K_1="fittings.laminar_k",
        K_inf="fittings.turbulent_k",
        K_end="constants.line_end_k",
    )
    value, words = work.value(flow), hose.words
    pipe = path.pipes[0]
    reynolds, rough = pipe.reynolds_at(value), work.value("eps") / work.value("d")
    work.line(
        "v",
        f"Velocity, {words}",
        f"{flow} / (pi/4 * d^2)",
        lines.mean_velocity(value, work.value("d")),
        "velocity",
        DEFINITION,
    )
    work.line("Re", f"Reynolds number, {words}", "v * d / nu", reynolds, "count", DEFINITION)
    regime, formula, source = "laminar", "64 / Re", "Hagen-Poiseuille"
    if float(reynolds) > lines.LAMINAR_END:
        regime, source = "turbulent", HAALAND
        formula = "1 / (1.8 * log10((eps/d/3.7)^1.11 + 6.9/Re))^2"
        if float(reynolds) < lines.TURBULENT_START:
            work.line(
                "f_t",
                f"Friction factor if turbulent, {words}",
                formula,
                lines.turbulent_factor(reynolds, rough),
                "count",
                HAALAND,
            )
            regime, source = "between laminar and turbulent", "the blend is this project's"
            formula = "64/Re + ((Re-2300)/1700)^2 * (3 - 2*(Re-2300)/1700) * (f_t - 64/Re)"
    work.line(
        "f",
        f"Friction factor, {regime}, {words}",
        formula,
        lines.darcy_factor(reynolds, rough),
        "count",
        source,
    )
    work.line(
        "dp_pipe",
        f"Friction, {words}",
        "f * L/d * rho*v^2/2",
        pipe.drop(value),
        "pressure",
        "Darcy-Weisbach",
    )
    work.line(
        "dp_fit",
        f"Turns and ends, {words}",
        "(n * (K_1/Re + K_inf*(1 + 0.0254/d)) + K_end) * rho*v^2/2",
        path.apart_from_pipes().drop(value),
        "pressure",
        HOOPER,
    )
    work.line(
        f"dp{tag}",
        f"Drop, {words}",
        "dp_pipe + dp_fit",
        path.drop(value),
        "pressure",
        DEFINITION,
    )


def _orifice(work: Workings, part: str, words: str, path: Path, flow: str, tag: str) -> None:
    """Drop of a valve's spool or a cooler: the square of the flow, from its rated drop."""
    work.given(Q_n=f"{part}.nominal_flow", dp_n=f"{part}.nominal_drop")
    work.line(
        f"dp{tag}",
        f"Drop, {words}",
        f"dp_n * ({flow}/Q_n)^2 * rho/rho_ref",
        path.drop(work.value(flow)),
        "pressure",
        "sharp edge: drop goes with the square of the flow",
    )


def _tank_way(work: Workings, strokes: Strokes, flow: str) -> None:
    """Return hose, cooler and filter; ``dp_tank`` and ``dp_F`` at the end."""
    value = work.value(flow)
    hose_drop(work, _RETURN, strokes.return_line, flow, "_R")
    _orifice(work, "cooler", "cooler", strokes.cooler, flow, "_C")
    work.given(
        Q_n="filter.nominal_flow",
        dp_n="filter.clean_drop",
        x_f="constants.filter_viscous_share",
        nu_f="constants.filter_reference_viscosity",
    )
    work.line(
        "dp_F",
        "Drop, filter: element with the viscosity, housing with the square of the flow",
        f"k_loss * dp_n * (x_f * mu/(nu_f*rho_ref) * {flow}/Q_n"
        f" + (1 - x_f) * rho/rho_ref * ({flow}/Q_n)^2)",
        strokes.filter_path.drop(value),
        "pressure",
        "Common practice of filter makers",
    )
    work.line(
        "dp_tank",
        "Back-pressure at the valve's tank port",
        "k_loss * (dp_R + dp_C) + dp_F",
        strokes.tank_path.drop(value),
        "pressure",
        DEFINITION,
    )


def all_ways(
    work: Workings, strokes: Strokes, into: str, out_of: str, *, to_tank: bool = True
) -> None:
    """Every drop of a stroke: pump's flow ``Q``, flows into and out of the cylinder by symbol."""
    work.given(k_loss="constants.loss_factor")
    hose_drop(work, _PRESSURE, strokes.pressure_line, "Q", "_P")
    work.line(
        "dp_press",
        "From pump to valve",
        "k_loss * dp_P",
        strokes.pressure_path.drop(work.value("Q")),
        "pressure",
        DEFINITION,
    )
    for hose, flow, tag, way in (
        (_WORK_IN, into, "in", "valve and hose to the cylinder"),
        (_WORK_OUT, out_of, "out", "hose from the cylinder and valve"),
    ):
        _orifice(work, "valve", f"spool, {hose.words}", strokes.spool, flow, "_S")
        hose_drop(work, hose, strokes.work_line, flow, "_W")
        work.line(
            f"dp_{tag}",
            f"Both: {way}",
            "k_loss * (dp_S + dp_W)",
            strokes.work_path.drop(work.value(flow)),
            "pressure",
            DEFINITION,
        )
    if to_tank:
        _tank_way(work, strokes, out_of)


def cylinder_flows(work: Workings, e: Evaluation, way: str) -> tuple[str, str]:
    """Flows into and out of the cylinder at the pump's flow ``Q``; their symbols."""
    ram, flow = e.ram, work.value("Q")
    if way == "back":
        work.line(
            "Q_cap",
            "Flow out of the cap end",
            "Q * phi",
            flow * ram.area_ratio,
            "flow",
            PISTON_FLOW,
        )
        return "Q", "Q_cap"
    near, area = ("A_rod", ram.rod_area) if way == "joined" else ("A_cap", ram.cap_area)
    into = "Q"
    if way == "joined":
        into = "Q_cap"
        work.line(
            "Q_cap",
            "Flow into the cap end, the rod end's included",
            "Q * A_cap / A_rod",
            flow / area * ram.cap_area,
            "flow",
            PISTON_FLOW,
        )
    work.line(
        "Q_rod",
        "Flow out of the rod end",
        f"Q * A_ann / {near}",
        flow / area * ram.annulus_area,
        "flow",
        PISTON_FLOW,
    )
    return into, "Q_rod"
