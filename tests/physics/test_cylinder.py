import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise.physics import cylinder

bores = st.floats(0.03, 0.3)
shares = st.floats(0.1, 0.9)


@given(bores, shares)
def test_areas_add_up(bore, share):
    rod = share * bore
    whole = cylinder.annulus_area(bore, rod) + cylinder.rod_area(rod)
    assert whole == pytest.approx(cylinder.cap_area(bore), rel=1e-12)
    ratio = cylinder.cap_area(bore) / cylinder.annulus_area(bore, rod)
    assert cylinder.area_ratio(bore, rod) == pytest.approx(ratio, rel=1e-10)


@given(bores, shares, st.floats(1e5, 3e7), st.floats(0.0, 0.95))
def test_blocked_rod_end_balances_the_piston(bore, share, pressure, loaded):
    rod = share * bore
    load = loaded * pressure * cylinder.cap_area(bore)
    inside = cylinder.intensified_pressure(pressure, bore, rod, load)
    assert inside * cylinder.annulus_area(bore, rod) + load == pytest.approx(
        pressure * cylinder.cap_area(bore), rel=1e-10
    )


def test_unloaded_blocked_rod_end_sees_the_area_ratio():
    expected = 2e7 * cylinder.area_ratio(0.1, 0.07)
    assert cylinder.intensified_pressure(2e7, 0.1, 0.07) == pytest.approx(expected, rel=1e-12)


@given(bores, shares, st.floats(0.1, 2.0))
def test_rod_displacement_is_what_the_ends_differ_by(bore, share, stroke):
    rod = share * bore
    difference = (cylinder.cap_area(bore) - cylinder.annulus_area(bore, rod)) * stroke
    assert cylinder.rod_displacement(rod, stroke) == pytest.approx(difference, rel=1e-9)


@given(st.floats(1e5, 3e7), st.floats(1e-4, 1e-2))
def test_compression_follows_the_definition_of_the_bulk_modulus(pressure, volume):
    squeezed = cylinder.compression_volume(pressure, volume, 1.6e9)
    assert 1.6e9 * squeezed / volume == pytest.approx(pressure, rel=1e-12)
