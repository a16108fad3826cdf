"""Flow and pressure at each point of the circuit, out and back without a log."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimise.columns import Column
from optimise.machine.evaluation import Evaluation
from optimise.machine.strokes import REGENERATIVE


@dataclass(frozen=True)
class StrokePoints:
    """The circuit in one settled stroke at the rating temperature; columns.

    Attributes
    ----------
    pump, valve, cap, rod, tank_port, filter
        Gauge pressure at the pump's outlet, where valve takes it in, at both ends of the cylinder,
        where the valve lets oil out to the tank, and before the filter [Pa].
    pump_flow, cap_flow, rod_flow, tank_flow
        Flow from tank through pump and pressure hose, through the hose of each end of the
        cylinder, and through the return line [m3/s].
    ram
        Speed of the ram [m/s].
    """

    pump: Column
    valve: Column
    cap: Column
    rod: Column
    tank_port: Column
    filter: Column
    pump_flow: Column
    cap_flow: Column
    rod_flow: Column
    tank_flow: Column
    ram: Column


def extend_points(evaluation: Evaluation) -> StrokePoints:
    """Way out: the pump fills the cap end; the rod end's oil goes to the tank or joins it."""
    strokes, point = evaluation.rated, evaluation.rated.extend
    joined = np.asarray(point.mode) == REGENERATIVE
    cap_flow, rod_flow = evaluation.extend_cap_flow, evaluation.extend_return_flow
    tank_flow = np.where(joined, 0.0, rod_flow)
    valve = point.pressure - strokes.pressure_path.drop(point.flow)
    tank_port = strokes.tank_path.drop(tank_flow)
    return _stroke(
        evaluation,
        (point.pressure, valve, tank_port),
        cap=valve - strokes.work_path.drop(cap_flow),
        rod=np.where(joined, valve, tank_port) + strokes.work_path.drop(rod_flow),
        flows=(point.flow, cap_flow, rod_flow, tank_flow),
        ram=evaluation.extend_speed,
    )


def retract_points(evaluation: Evaluation) -> StrokePoints:
    """Way back: the pump fills the rod end, the cap end empties to the tank."""
    strokes, point = evaluation.rated, evaluation.rated.retract
    returned = evaluation.retract_return_flow
    valve = point.pressure - strokes.pressure_path.drop(point.flow)
    return _stroke(
        evaluation,
        (point.pressure, valve, strokes.tank_path.drop(returned)),
        cap=evaluation.cap_back_pressure,
        rod=valve - strokes.work_path.drop(point.flow),
        flows=(point.flow, returned, point.flow, returned),
        ram=evaluation.retract_speed,
    )


def _stroke(
    evaluation: Evaluation,
    pressures: tuple[Column, Column, Column],
    *,
    cap: Column,
    rod: Column,
    flows: tuple[Column, Column, Column, Column],
    ram: Column,
) -> StrokePoints:
    pump, valve, tank_port = pressures
    pump_flow, cap_flow, rod_flow, tank_flow = flows
    return StrokePoints(
        pump=pump,
        valve=valve,
        cap=cap,
        rod=rod,
        tank_port=tank_port,
        filter=evaluation.rated.filter_path.drop(tank_flow),
        pump_flow=pump_flow,
        cap_flow=cap_flow,
        rod_flow=rod_flow,
        tank_flow=tank_flow,
        ram=ram,
    )
