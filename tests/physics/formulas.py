"""All public formulas of the physics, each with a plausible set of arguments."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable

import optimise.physics

MODULES = sorted(module.name for module in pkgutil.iter_modules(optimise.physics.__path__))


def public_functions(name: str) -> list[Callable]:
    module = importlib.import_module(f"optimise.physics.{name}")
    return [
        value
        for key, value in inspect.getmembers(module, inspect.isfunction)
        if not key.startswith("_") and value.__module__ == module.__name__
    ]


SCALARS_ONLY = {"oil.viscosity_index", "oil.viscosity_100_from_index"}
"""Formulas of study constants: they take floats and raise on values outside the standard."""

ARGUMENTS: dict[str, tuple[float, ...]] = {
    "cylinder.annulus_area": (0.1016, 0.0508),
    "cylinder.area_ratio": (0.1016, 0.0508),
    "cylinder.cap_area": (0.1016,),
    "cylinder.compression_volume": (2e7, 5e-3, 1.7e9),
    "cylinder.intensified_pressure": (2e7, 0.1016, 0.0508, 4e4),
    "cylinder.rod_area": (0.0508,),
    "cylinder.rod_displacement": (0.0508, 0.61),
    "engine.air_temperature_factor": (305.0,),
    "engine.altitude_factor": (1500.0,),
    "engine.fuel_mass_flow": (4e3, 1.1e-7),
    "engine.full_load_torque": (340.0, 18.0, 375.0, 22.0, 260.0),
    "engine.governor_droop": (395.0, 375.0),
    "engine.running_speed": (19.0, 0.006, 395.0, 375.0, 18.0, 24.0, 260.0),
    "engine.sae_j1349_factor": (95e3, 305.0),
    "engine.stall_reserve": (18.0, 24.0),
    "engine.standard_density_ratio": (1500.0,),
    "engine.standard_pressure": (1500.0,),
    "engine.torque_from_mean_pressure": (8e5, 2.7e-4),
    "heat.conductance_rejection": (50.0, 30.0),
    "heat.steady_temperature": (298.15, 900.0, 20.0),
    "heat.throttling_rise": (7e6, 860.0, 1900.0),
    "heat.wall_rejection": (12.0, 1.2, 35.0),
    "heat.warm_up_time_constant": (30.0, 1900.0, 40.0, 460.0, 15.0),
    "lines.darcy_factor": (3100.0, 1e-3),
    "lines.fitting_coefficient": (1700.0, 800.0, 0.4, 0.019),
    "lines.fitting_drop": (1.1e-3, 800.0, 0.4, 0.019, 3e-5, 860.0),
    "lines.fitting_linear_coefficient": (800.0, 0.019, 3e-5, 860.0),
    "lines.fitting_square_coefficient": (0.4, 0.019, 860.0),
    "lines.friction_number": (3100.0, 1e-3),
    "lines.friction_number_at": (3100.0, 1.1e-4),
    "lines.mean_velocity": (1.1e-3, 0.019),
    "lines.minor_square_coefficient": (0.5, 0.019, 860.0),
    "lines.pipe_drop": (1.5e-3, 0.019, 2.3, 3e-6, 3e-5, 860.0),
    "lines.pipe_linear_coefficient": (0.019, 2.3, 3e-5, 860.0),
    "lines.reynolds_number": (1.1e-3, 0.019, 3e-5),
    "lines.roughness_term": (1e-3,),
    "lines.turbulent_factor": (9100.0, 1e-3),
    "oil.density": (325.0, 870.0, 6.5e-4),
    "oil.effective_bulk_modulus": (9e6, 1.6e9, 0.004, 1.4),
    "oil.walther_constants": (46e-6, 6.8e-6),
    "oil.walther_temperature": (3e-5, 9.35, 3.68),
    "oil.walther_viscosity": (325.0, 9.35, 3.68),
    "pump.delivered_flow": (1.5e-5, 370.0, 1.4e7, 0.026, 3e-8),
    "pump.ideal_flow": (1.5e-5, 370.0),
    "pump.mechanical_efficiency": (1.4e7, 370.0, 0.026, 1e5, 0.05),
    "pump.pressure_torque": (1.5e-5, 1.4e7, 0.05),
    "pump.slip_coefficient": (0.9, 1.7e7, 370.0, 0.026),
    "pump.slip_flow": (1.5e-5, 1.4e7, 0.026, 3e-8),
    "pump.torque_loss_coefficients": (0.88, 1.7e7, 370.0, 0.026, 0.4),
    "pump.viscous_torque_per_speed": (1.5e-5, 0.026, 1e5),
    "pump.volumetric_efficiency": (1.4e7, 370.0, 0.026, 3e-8),
    "strength.axial_stress": (1.6e5, 0.0508),
    "strength.critical_load": (0.0508, 1.15, 1.0, 2.07e11, 5.2e8),
    "strength.lame_axial": (2e7, 0.1016, 6.35e-3),
    "strength.lame_hoop_stress": (2e7, 0.1016, 6.35e-3),
    "strength.lame_radial": (2e7,),
    "strength.mean_diameter_burst": (5.8e8, 0.1016, 6.35e-3),
    "strength.radius_of_gyration": (0.0508,),
    "strength.slenderness": (1.35, 0.0508),
    "strength.stepped_column_factor": (9.6, 0.52),
    "strength.transition_slenderness": (2.07e11, 5.2e8, 1.0),
    "strength.von_mises_barrel": (2e7, 0.1016, 6.35e-3),
    "valves.element_linear_coefficient": (1.3e-3, 4e4, 0.7, 1.4),
    "valves.element_square_coefficient": (1.3e-3, 4e4, 0.7, 1.02),
    "valves.flow_at_drop": (1.3e-3, 6e5, 9e5),
    "valves.square_drop_coefficient": (1.3e-3, 6e5, 850.0, 870.0),
    "work.margin_price": (1200.0, 0.3),
    "work.markup_price": (1200.0, 0.3),
    "work.pieces_per_hour": (13.0, 2.0, 0.75),
    "work.piece_period": (6.0, 4.0, 0.5, 5.0, 0.7),
    "work.split_period": (9.0, 0.1),
    "work.hidden_time": (4.0, 5.0, 0.7),
    "work.rounds_per_hour": (210.0, 4.0),
    "work.wood_rate": (70.0, 0.03),
    "work.volume_cost": (42.0, 6e-4, 0.75, 750.0, 1600.0),
    "work.second_worth": (36.0, 360000.0, 15.0, 0.75),
    "work.two_hand_distance": (0.2,),
    "work.wedge_force": (2e4, 0.26, 0.3),
}


def formula(name: str) -> Callable:
    module, function = name.split(".")
    return getattr(importlib.import_module(f"optimise.physics.{module}"), function)
