"""Work: what strokes become in pieces, wedge mechanics, prices, distance of a two-hand control."""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np

from optimise.columns import Column, as_column, as_numbers

Edition: TypeAlias = Literal["2010", "2024"]
"""Edition of ISO 13855."""

_HAND_SPEED = 1.6
_INTRUSION: dict[Edition, float] = {"2010": 0.250, "2024": 0.550}


def hidden_time(retract_time: Column, handling_time: Column, overlapped_share: Column) -> Column:
    """Time in which hands and the retract are at work together, s.

    The share of the handling that may run meanwhile, but no more than the retract lasts. A retract
    that is quicker than those hands hides all of itself: quicker still, it gains nothing.

    Parameters
    ----------
    retract_time, handling_time
        s.
    overlapped_share
        Share of the handling that can be done while the ram goes back, 0 to 1.

    Examples
    --------
    >>> f"{hidden_time(4.0, 5.0, 0.5):.1f} {hidden_time(2.0, 5.0, 0.5):.1f}"
    '2.5 2.0'
    """
    hidden: Column = np.minimum(retract_time, overlapped_share * handling_time)
    return hidden


def piece_period(
    extend_time: Column,
    retract_time: Column,
    reversal_time: Column,
    handling_time: Column,
    overlapped_share: Column,
) -> Column:
    """Time from one log to the next, s.

    Out, reversal, back and handling in a row, less the time in which hands and the retract are at
    work together (:func:`hidden_time`).

    Parameters
    ----------
    extend_time, retract_time, reversal_time, handling_time
        s.
    overlapped_share
        Share of the handling that can be done while the ram goes back, 0 to 1.

    Examples
    --------
    >>> f"{piece_period(6.0, 4.0, 0.5, 5.0, 0.6):.1f}"
    '12.5'
    """
    hidden = hidden_time(retract_time, handling_time, overlapped_share)
    return extend_time + reversal_time + retract_time + handling_time - hidden


def split_period(period: Column, unsplit: Column) -> Column:
    """Time for each log that is split, s: those that stay whole take their time too.

    Of n logs n (1 - u) are split, in n periods.

    Parameters
    ----------
    period
        From one log to the next, s.
    unsplit
        Share u of the logs that stay unsplit, 0 to 1; infinite time at 1.

    Examples
    --------
    >>> f"{split_period(9.0, 0.1):.1f}"
    '10.0'
    """
    left = 1.0 - unsplit
    none = as_column(left) <= 0.0
    return as_numbers(np.where(none, np.inf, period / np.where(none, 1.0, left)))


def pieces_per_hour(period: Column, pieces_per_stroke: Column, utilisation: Column) -> Column:
    """Pieces split in an hour, 1/h.

    Parameters
    ----------
    period
        From one log to the next, s, above 0.
    pieces_per_stroke
        Pieces that a stroke adds, -.
    utilisation
        Share of the hour that is worked, 0 to 1.

    Examples
    --------
    >>> f"{pieces_per_hour(13.0, 1.0, 0.75):.1f}"
    '207.7'
    """
    return 3600.0 * pieces_per_stroke * utilisation / period


def rounds_per_hour(pieces_per_hour: Column, pieces_per_round: Column) -> Column:
    """Rounds split up in an hour, 1/h.

    A round is one piece to begin with, so that n - 1 have to be added to it.

    Parameters
    ----------
    pieces_per_hour
        Pieces that strokes add in an hour, 1/h.
    pieces_per_round
        Pieces n that become of a round, 2 or more.

    Examples
    --------
    >>> rounds_per_hour(210.0, 4.0)
    70.0
    """
    return pieces_per_hour / (pieces_per_round - 1.0)


def wood_rate(rounds_per_hour: Column, round_volume: Column) -> Column:
    """Solid wood split per time, m3/s.

    Parameters
    ----------
    rounds_per_hour
        1/h.
    round_volume
        Of a round, m3.

    Examples
    --------
    >>> f"{3600.0 * wood_rate(70.0, 0.03):.1f}"
    '2.1'
    """
    return rounds_per_hour * round_volume / 3600.0


def volume_cost(
    labour_rate: Column,
    wood_rate: Column,
    fuel_per_volume: Column,
    fuel_density: Column,
    fuel_price: Column,
) -> Column:
    """Labour and fuel for a volume of wood, money per m3.

    Parameters
    ----------
    labour_rate
        Money per hour.
    wood_rate
        Solid wood split per time over the hours paid, m3/s, above 0.
    fuel_per_volume
        Fuel mass per volume of wood, kg/m3.
    fuel_density
        kg/m3.
    fuel_price
        Money per m3 of fuel.

    Examples
    --------
    >>> f"{volume_cost(42.0, 2.1 / 3600.0, 0.75, 750.0, 1600.0):.2f}"
    '21.60'
    """
    return labour_rate / (3600.0 * wood_rate) + fuel_per_volume / fuel_density * fuel_price


def second_worth(
    hourly_worth: Column, hours: Column, period: Column, utilisation: Column
) -> Column:
    """Money that a second off every piece is worth over some hours of splitting, per second.

    In that time hours * utilisation / period pieces are split; each is then ready a second sooner.

    Parameters
    ----------
    hourly_worth
        Money that an hour of splitting saved is worth.
    hours
        s, over which it counts.
    period
        For each piece that is split, s, above 0.
    utilisation
        Share of the hour that is worked, 0 to 1.

    Examples
    --------
    >>> f"{second_worth(36.0, 360000.0, 15.0, 0.75):.0f}"
    '180'
    """
    return hourly_worth / 3600.0 * hours * utilisation / period


def wedge_force(normal_force: Column, half_angle: Column, friction: Column) -> Column:
    """Force along a wedge whose two faces are each pressed by a normal force, N.

    F = 2 N (sin a + mu cos a), statics.

    Parameters
    ----------
    normal_force
        N, on each face.
    half_angle
        Half of the angle between the faces, rad.
    friction
        Coefficient, -.

    Examples
    --------
    >>> f"{wedge_force(1000.0, 0.0, 0.3):.0f}"
    '600'
    """
    force: Column = 2.0 * normal_force * (np.sin(half_angle) + friction * np.cos(half_angle))
    return force


def margin_price(cost: Column, margin: Column) -> Column:
    """Price of which the margin is the given share: cost/(1 - margin).

    Parameters
    ----------
    cost
        In any currency.
    margin
        Share of the price, below 1.

    Examples
    --------
    >>> f"{margin_price(75.0, 0.25):.2f}"
    '100.00'
    """
    return cost / (1.0 - margin)


def markup_price(cost: Column, markup: Column) -> Column:
    """Price by a surcharge on cost: cost (1 + markup).

    Parameters
    ----------
    cost
        In any currency.
    markup
        Share of the cost.

    Examples
    --------
    >>> f"{markup_price(100.0, 0.25):.2f}"
    '125.00'
    """
    return cost * (1.0 + markup)


def two_hand_distance(stop_time: Column, edition: Edition = "2010") -> Column:
    """Least distance from a two-hand control to the danger, m: 1.6 m/s t + C.

    ISO 13855; C is 250 mm in the edition of 2010 and 550 mm in that of 2024.

    Parameters
    ----------
    stop_time
        From letting go to standstill, s.
    edition
        Study constant.

    Examples
    --------
    >>> f"{two_hand_distance(0.2):.2f} {two_hand_distance(0.2, '2024'):.2f}"
    '0.57 0.87'
    """
    return _HAND_SPEED * stop_time + _INTRUSION[edition]
