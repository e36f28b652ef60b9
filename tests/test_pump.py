"""Lifting water: published powers and criteria, a whole head by hand, a solar pump by hand, and linearity."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from lifting_rows import METRES_PER_FOOT, Row, allowance, drive, inputs, name_of, rows_of
from plotworth.ground.conversions import (
    KILOWATTS_PER_HORSEPOWER,
    LITRES_PER_M3,
    LITRES_PER_US_GALLON,
    M3_PER_THOUSAND_CUBIC_FEET,
    MINUTES_PER_HOUR,
    SECONDS_PER_HOUR,
    WATT_HOURS_PER_KWH,
)
from plotworth.supply.hydraulics import Lateral, Main
from plotworth.supply.pump import (
    DRIVES,
    Head,
    Source,
    energy_per_m3,
    hydraulic_kw,
    hydraulic_kwh,
    peak_sun_hours,
    shaft_kw,
    solar_flow_m3_per_h,
    solar_panel_w,
    tank_m3,
    total_dynamic_head,
    worst_month_panel_w,
)

assert_close = partial(assert_allclose, rtol=1e-9)

FEET_OF_WATER_PER_PSI = 2.31  # handbook
SOLD_IN_THE_UNITED_STATES = {"kWh": 1.0, "L": LITRES_PER_US_GALLON, "m3": M3_PER_THOUSAND_CUBIC_FEET}
HEAD = st.just(0.0) | st.floats(min_value=1e-3, max_value=300)
VOLUME = st.just(0.0) | st.floats(min_value=1e-3, max_value=1e5)
SHARE = st.floats(min_value=0.05, max_value=1)


def flow_m3_per_h(row: Row) -> float:
    given_ = inputs(row)
    if "flow_l_s" in given_:
        return given_["flow_l_s"] * SECONDS_PER_HOUR / LITRES_PER_M3
    return given_["flow_gpm"] * LITRES_PER_US_GALLON * MINUTES_PER_HOUR / LITRES_PER_M3


def overall_share(row: Row) -> float:
    """Hydraulic energy over bought energy, per unit of the drive."""
    bought = energy_per_m3(10.0, inputs(row)["pump_efficiency"], DRIVES[drive(row)].shaft_kwh_per_unit)
    return float(hydraulic_kwh(1.0, 10.0) / bought)


def water_hp_h_per_unit(row: Row) -> float:
    return overall_share(row) / KILOWATTS_PER_HORSEPOWER * SOLD_IN_THE_UNITED_STATES[DRIVES[drive(row)].unit]


def water_hp(row: Row) -> float:
    return float(hydraulic_kw(flow_m3_per_h(row), inputs(row)["head_ft"] * METRES_PER_FOOT)) / KILOWATTS_PER_HORSEPOWER


def head_ft(row: Row) -> float:
    lift_m = inputs(row)["lift_ft"] * METRES_PER_FOOT
    pressure_m = inputs(row)["pressure_psi"] * FEET_OF_WATER_PER_PSI * METRES_PER_FOOT
    head = total_dynamic_head(
        136.0, Source(lift_m, np.inf), Main(0.0, 150.0, 140.0), None,
        rise_m=0.0, filter_and_fittings_m=0.0, operating_pressure_m=pressure_m,
    )  # fmt: skip
    return float(head.total_m) / METRES_PER_FOOT


WAYS = {
    "hydraulic_kw": lambda row: hydraulic_kw(flow_m3_per_h(row), inputs(row)["head_m"]),
    "shaft_kw": lambda row: shaft_kw(flow_m3_per_h(row), inputs(row)["head_m"], inputs(row)["pump_efficiency"]),
    "hydraulic_wh": lambda row: hydraulic_kwh(inputs(row)["volume_m3"], inputs(row)["head_m"]) * WATT_HOURS_PER_KWH,
    "water_hp_h_per_unit": water_hp_h_per_unit,
    "overall_share": overall_share,
    "head_ft": head_ft,
    "water_hp": water_hp,
    "water_hp_h_per_gallon": lambda row: water_hp(row) / inputs(row)["gallons_per_h"],
    "criterion_pct": lambda row: 100 * water_hp(row) / inputs(row)["gallons_per_h"] / inputs(row)["criterion"],
}


@pytest.mark.published
@pytest.mark.parametrize("row", rows_of("pump"), ids=name_of)
def test_lifting_agrees_with_published_rows(row: Row) -> None:
    assert_allclose(WAYS[row["quantity"]](row), float(row["value"]), rtol=0, atol=allowance(row))


def test_the_grid_drive_is_the_motor_of_the_criterion() -> None:
    # basis of the criteria, printed: motor 88 %; the printed 1.18 hp-h per kWh carries three digits
    assert_allclose(DRIVES["grid"].shaft_kwh_per_unit, 0.88, atol=0.0005)


def test_fuel_of_a_cubic_metre_by_hand() -> None:
    # by hand: 40 m is 0.109 kWh; pump 0.5, so 0.218 on the shaft; 3.28 kWh a litre of diesel, half of it reached
    litres = energy_per_m3(40, 0.5, DRIVES["diesel"].shaft_kwh_per_unit, share_reached=0.5)
    assert_allclose(litres, 0.218 / (3.28 * 0.5), rtol=2e-3)  # by-hand figures carry three digits


def whole_head(flow: float) -> Head:
    """A head with every term, none of them 0 at a flow; invented for the test."""
    lateral = Lateral(outlets=60, spacing_m=0.3, outlet_l_per_h=flow * 25, diameter_mm=13.6)
    return total_dynamic_head(
        flow, Source(18.0, 0.8), Main(120.0, 40.0, 145.0), lateral,
        rise_m=4.0, filter_and_fittings_m=3.5, operating_pressure_m=10.0,
    )  # fmt: skip


def test_a_whole_head_by_hand() -> None:
    # by hand at 2 m3/h: drawdown 2/0.8; main 10.67 x 120 x (5.5556e-4/145)**1.852 / 0.04**4.8704;
    # lateral 3.0 m3/h over 18 m in 13.6 mm by the textbook form x F(60) = 1/2.75 + 1/120 + sqrt(.75)/21600
    speed = 3.0 / 3600 / (np.pi * 0.0136**2 / 4)
    whole = 0.3164 * (speed * 0.0136 / 1.004e-6) ** -0.25 * 18 / 0.0136 * speed**2 / 19.62
    lateral = whole * (1 / 2.75 + 1 / 120 + 0.75**0.5 / 21600)
    main = 10.67 * 120 * (2 / 3600 / 145) ** 1.852 / 0.04**4.8704
    assert_close(whole_head(2.0).total_m, 18 + 2.5 + 4 + 3.5 + main + lateral + 10)


@given(st.floats(min_value=0, max_value=20))
def test_the_terms_of_a_head_add_up_and_none_falls_with_the_flow(flow: float) -> None:
    head, more = whole_head(flow), whole_head(flow * 1.1)
    terms = [head.static_level_m, head.drawdown_m, head.rise_m, head.filter_and_fittings_m]
    terms += [head.mains_m, head.laterals_m, head.operating_pressure_m]
    assert_close(head.total_m, sum(map(float, terms)))
    assert more.total_m >= head.total_m


def test_without_flow_a_head_is_its_still_terms() -> None:
    assert_close(whole_head(0.0).total_m, 18 + 4 + 3.5 + 10)


def test_open_water_sinks_by_nothing() -> None:
    assert Source(3.0, np.inf).drawdown_m(50.0) == 0


@given(VOLUME, HEAD)
def test_energy_is_linear_in_volume_and_in_head(volume: float, head: float) -> None:
    assert_close(hydraulic_kwh(3 * volume, head), 3 * hydraulic_kwh(volume, head))
    assert_close(hydraulic_kwh(volume, 3 * head), 3 * hydraulic_kwh(volume, head))
    assert hydraulic_kwh(0, head) == hydraulic_kwh(volume, 0) == 0


@given(HEAD, SHARE, SHARE)
def test_electricity_is_hydraulic_energy_over_both_efficiencies(head: float, pump: float, motor: float) -> None:
    assert_close(energy_per_m3(head, pump, motor) * pump * motor, hydraulic_kwh(1, head))


def test_a_solar_pump_by_hand() -> None:
    # by hand: 5 m3 x 30 m x 2.725 Wh = 408.75 Wh in the water; over 0.40 overall 1021.9 Wh a day;
    # 4.5 sun hours x 0.75 give 302.8 W; pumped in the sun hours at 1.11 m3/h; two days' tank is 10 m3
    daily_kwh = 5 * energy_per_m3(30, 0.5, 0.8)
    assert_allclose(solar_panel_w(daily_kwh, 4.5, 0.75), 302.8, atol=0.05)
    assert_allclose(solar_flow_m3_per_h(5, 4.5), 1.111, atol=0.0005)
    assert tank_m3(5, 2) == 10


def test_a_kilowatt_hour_of_radiation_is_a_sun_hour() -> None:
    assert_close(peak_sun_hours(18.0), 5.0)  # by hand: 18 / 3.6


def test_the_worst_month_sets_the_panel_though_neither_demand_nor_sun_is_at_its_worst() -> None:
    # by hand, W = Wh / (h x 0.8): 1000/6 /.8 = 208, 900/4.5 /.8 = 250, 400/3 /.8 = 167
    daily_kwh, sun_h = np.array([1.0, 0.9, 0.4]), np.array([6.0, 4.5, 3.0])
    assert_close(worst_month_panel_w(daily_kwh, sun_h, 0.8), 250.0)


def test_the_worst_month_is_found_for_each_site_and_draw() -> None:
    daily_kwh = np.ones((12, 3, 5)) * np.arange(1, 13).reshape(12, 1, 1)
    assert worst_month_panel_w(daily_kwh, 5.0, 0.75).shape == (3, 5)


def test_heads_broadcast_sites_against_draws() -> None:
    head = total_dynamic_head(
        2.0, Source(np.array([[10.0], [30.0]]), 1.0), Main(50.0, 40.0, np.array([[130.0, 140.0, 150.0]])), None,
        rise_m=2.0, filter_and_fittings_m=1.0, operating_pressure_m=0.0,
    )  # fmt: skip
    assert energy_per_m3(head.total_m, 0.5, 0.8).shape == (2, 3)
