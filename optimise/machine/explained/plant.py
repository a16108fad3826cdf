"""Cylinder, engine at its site, oil, pump, and the load of the pump on the engine."""

from __future__ import annotations

import numpy as np

from optimise.machine.circuit import Drive
from optimise.machine.evaluation import Evaluation
from optimise.machine.explained.sources import (
    D341,
    DEFINITION,
    GEOMETRY,
    ISO_2533,
    PISTON,
    PROJECT,
    TORQUE,
    WILSON,
)
from optimise.machine.explained.workings import PASCAL_S, TORQUE_PER_SPEED, Workings
from optimise.machine.strokes import Strokes
from optimise.physics import engine


def cylinder(work: Workings, e: Evaluation) -> None:
    """Areas, drag, force."""
    work.begin("Cylinder")
    work.given(
        D="bore.diameter",
        d_r="rod.diameter",
        s="frame.stroke",
        F_idle="frame.idle_drag",
        p_seal="constants.seal_pressure",
        p_relief="valve.relief_pressure",
    )
    ram = e.ram
    work.line("A_cap", "Cap area", "pi/4 * D^2", ram.cap_area, "area", GEOMETRY)
    work.line("A_rod", "Rod area", "pi/4 * d_r^2", ram.rod_area, "area", GEOMETRY)
    work.line("A_ann", "Annulus area", "pi/4 * (D^2 - d_r^2)", ram.annulus_area, "area", GEOMETRY)
    work.line(
        "phi",
        "Area ratio: return flow over pump flow on the way back",
        "D^2 / (D^2 - d_r^2)",
        ram.area_ratio,
        "count",
        GEOMETRY,
    )
    work.line(
        "F_drag",
        "Drag of slides and seals",
        "F_idle + p_seal * A_cap",
        ram.drag,
        "force",
        PROJECT,
    )
    work.line("F", "Force at relief, ram standing", "p_relief * A_cap", e.force, "force", PISTON)
    work.line(
        "p_int",
        "Rod-end pressure with the rod port blocked",
        "p_relief * A_cap / A_ann",
        e.rod_end_pressure,
        "pressure",
        PISTON,
    )
    work.end()


def site(work: Workings, e: Evaluation) -> None:
    """What altitude and warm air leave of the engine."""
    work.begin("Engine at its site")
    work.given(
        z="surroundings.altitude",
        T_air="surroundings.air_temperature",
        T_cat="engine.rated_torque",
        T_pkcat="engine.peak_torque",
        w_r="engine.rated_speed",
        w_0="engine.no_load_speed",
        w_pk="engine.peak_torque_speed",
        x_cont="engine.continuous_share",
    )
    place, plant = e.setting.surroundings, e.plant
    work.line(
        "sigma",
        "Density of the air over that at sea level",
        "(1 - 0.0065*z/288.15)^(9.80665/(287.05287*0.0065) - 1)",
        engine.standard_density_ratio(place.altitude),
        "count",
        ISO_2533,
    )
    work.line(
        "k_alt",
        "Power left by the altitude",
        "1.1324*sigma - 0.1324",
        engine.altitude_factor(place.altitude),
        "count",
        "Gagg and Farrar, SAE Trans. 29 (1934), constants from memory",
    )
    work.line(
        "k_air",
        "Power left by warm air",
        "min(max(1 - 0.01/(10*5/9)*(T_air - (60 + 459.67)*5/9), 0.01), 1)",
        engine.air_temperature_factor(place.air_temperature),
        "count",
        "Rule of the trade for petrol and gas engines",
    )
    work.line("k_site", "Derating", "k_alt * k_air", plant.derating, "count", DEFINITION)
    work.line(
        "T_r", "Torque at rated speed", "k_site * T_cat", plant.rated_torque, "torque", DEFINITION
    )
    work.line("T_pk", "Peak torque", "k_site * T_pkcat", plant.peak_torque, "torque", DEFINITION)
    work.line("P_r", "Rated power", "T_r * w_r", plant.rated_power, "power", DEFINITION)
    work.line(
        "P_cont",
        "Power that it may give all day",
        "x_cont * P_r",
        e.continuous_power,
        "power",
        DEFINITION,
    )
    work.line(
        "p_atm",
        "Air pressure",
        "101325 * (1 - 0.0065*z/288.15)^(9.80665/(287.05287*0.0065))",
        e.atmosphere,
        "pressure",
        ISO_2533,
    )
    work.end()


def rated_oil(work: Workings, e: Evaluation) -> None:
    """Viscosity line and the oil at the rating temperature."""
    work.begin("Oil at the rating temperature", "T in kelvin, viscosities in m2/s.")
    work.given(
        nu_40="oil.viscosity_40",
        nu_100="oil.viscosity_100",
        rho_15="oil.density_15",
        beta="oil.expansion",
    )
    a, b = e.walther
    work.line(
        "B",
        "Slope of the viscosity line",
        "(log10(log10(1e6*nu_40 + 0.7)) - log10(log10(1e6*nu_100 + 0.7)))"
        " / (log10(373.15) - log10(313.15))",
        b,
        "count",
        D341,
    )
    work.line(
        "A",
        "Height of the viscosity line",
        "log10(log10(1e6*nu_40 + 0.7)) + B*log10(313.15)",
        a,
        "count",
        D341,
    )
    work.given(T="surroundings.rated_oil_temperature")
    oil_at(work, e.rated)
    work.end()


def oil_at(work: Workings, strokes: Strokes) -> None:
    """Viscosity and density at the temperature that ``T`` stands for."""
    work.line(
        "nu",
        "Kinematic viscosity",
        "1e-6 * (10^(10^(A - B*log10(T))) - 0.7)",
        strokes.kinematic_viscosity,
        "viscosity",
        D341,
    )
    work.line(
        "rho",
        "Density",
        "rho_15 / (1 + beta*(T - 288.15))",
        strokes.density,
        "density",
        "coefficient of cubic expansion",
    )
    work.line(
        "mu", "Dynamic viscosity", "rho * nu", strokes.dynamic_viscosity, PASCAL_S, DEFINITION
    )


def pump_data(work: Workings, e: Evaluation) -> None:
    """Largest flow, coefficients from catalogue efficiencies, shift and reload pressure."""
    plant = e.plant
    work.begin("Pump", "Displacements in m3 a turn, speeds in rad/s.")
    work.given(
        V_large="pump.large_displacement",
        V_small="pump.small_displacement",
        i="frame.drive_ratio",
        c_Q="constants.speed_factor",
        k_leak="constants.leakage_factor",
        eta_v="pump.volumetric_efficiency",
        eta_m="pump.mechanical_efficiency",
        p_rate="pump.rated_pressure",
        w_rate="pump.rated_speed",
        p_unload="pump.unload_pressure",
        nu_ref="constants.pump_reference_viscosity",
        rho_ref="constants.reference_density",
        x_visc="constants.pump_viscous_share",
        x_reload="constants.reload_share",
        p_set="pump.shift_pressure",
    )
    work.line(
        "V_both",
        "Both sections",
        "V_large + V_small",
        plant.both_displacements,
        "displacement",
        DEFINITION,
    )
    work.line(
        "w_p0",
        "Pump speed without load",
        "i * w_0",
        plant.pump_no_load_speed,
        "rotation",
        DEFINITION,
    )
    work.line(
        "Q_max",
        "Largest flow: no load, no leakage; lines are sized by it",
        "c_Q * V_both * w_p0 / (2*pi)",
        plant.largest_flow,
        "flow",
        DEFINITION,
    )
    work.line(
        "C_s",
        "Leakage coefficient",
        "k_leak * (1 - eta_v) * nu_ref*rho_ref * w_rate / p_rate",
        plant.slip,
        "count",
        WILSON,
    )
    work.line(
        "C_v",
        "Viscous torque coefficient",
        "x_visc * (1/eta_m - 1) * p_rate / (nu_ref*rho_ref * w_rate)",
        plant.viscous_coefficient,
        "count",
        WILSON,
    )
    work.line(
        "C_f",
        "Friction torque coefficient",
        "(1 - x_visc) * (1/eta_m - 1)",
        plant.coulomb,
        "count",
        WILSON,
    )
    if bool(np.asarray(plant.two_stage)):
        work.line(
            "p_shift",
            "Shift pressure: the relief valve may be set lower",
            "min(p_set, p_relief)",
            plant.shift_pressure,
            "pressure",
            DEFINITION,
        )
        work.line(
            "p_reload",
            "Pressure at which the large section loads again",
            "x_reload * p_shift",
            plant.reload_pressure,
            "pressure",
            "assumed, see constants.reload_share",
        )
        verdict = ""
    else:
        work.take("p_shift", plant.shift_pressure, "pressure", "valve.relief_pressure")
        verdict = "A pump of one section does not shift; its bound is the relief setting."
    work.end(verdict)


def engine_loads(work: Workings, e: Evaluation) -> None:
    """Torque before the shift and at relief against what the engine has."""
    rated = e.rated
    work.begin("Engine loads at rated speed", "Torque at the engine's shaft.")
    work.same(w="w_r")
    shaft_load(work, rated.high_drive, "p_shift", "", high=True)
    work.line(
        "T_high",
        "Torque just before the shift, both sections",
        "T_p + k*w",
        e.high_stage_torque,
        "torque",
        TORQUE,
    )
    work.line(
        "x_high", "Load before the shift", "T_high / T_r", e.high_stage_load, "share", DEFINITION
    )
    shaft_load(work, rated.low_drive, "p_relief", "", high=False)
    work.line(
        "T_low",
        "Torque at relief, small section",
        "T_p + k*w",
        e.low_stage_torque,
        "torque",
        TORQUE,
    )
    work.line("x_low", "Load at relief", "T_low / T_r", e.low_stage_load, "share", DEFINITION)
    work.line(
        "x_stall",
        "Largest torque over the peak",
        "max(T_high, T_low) / T_pk",
        e.stall_share,
        "share",
        DEFINITION,
    )
    work.end()


def shaft_load(work: Workings, drive: Drive, pressure: str, tag: str, *, high: bool) -> None:
    """Load of the pump on the engine's shaft at the pressure of a symbol."""
    work.line(
        f"k{tag}",
        "Drag of the oil in the pump, per speed",
        "i^2 * C_v * V_both * mu / (2*pi)",
        drive.viscous_per_speed,
        TORQUE_PER_SPEED,
        WILSON,
    )
    work.same(p=pressure)
    value = float(work.value("p"))
    if high:
        work.line(
            f"T_p{tag}",
            "Torque for the pressure, both sections",
            "i * V_both * p * (1 + C_f) / (2*pi)",
            drive.pressure_torque(value),
            "torque",
            WILSON,
        )
        return
    work.line(
        f"T_p{tag}",
        "Torque for the pressure, small section; the large one turns unloaded",
        "i * (V_small*p + V_large*p_unload) * (1 + C_f) / (2*pi)",
        drive.pressure_torque(value),
        "torque",
        WILSON,
    )
