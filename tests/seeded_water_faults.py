"""Faults to put into what the library works out of a season's water, one at a time, as in `seeded_faults`."""

from dataclasses import replace

import numpy as np

from independent_water_cases import (
    all_computed,
    furrows_and_less_water_than_needed,
    salty_water_and_poor_efficiency,
    three_years_of_weather,
    under_a_tunnel,
)
from plotworth.choose import simulated, tank_season, water_rows, watering
from plotworth.supply import demand, reservoir
from plotworth.supply.requirement import Delivery, Requirement
from seeded_faults import around

LEACHING = 0.15


def the_delivery_share_is_forgotten_in_the_peak(monkeypatch):
    def change(true, water):
        return [(month, days, litres * water.rows.delivery_share) for month, days, litres in true(water)]

    around(monkeypatch, simulated, "_months", change)


def a_wick_leaches_too(monkeypatch):
    monkeypatch.setattr(watering, "rising_delivery", lambda share, flushing: Delivery(share, LEACHING, flushing))


def losses_and_leaching_are_added_up(monkeypatch):
    def change(true, net, delivery):
        need = true(net, replace(delivery, leaching_share=0.0))
        return replace(need, gross_mm=need.gross_mm / (1 - delivery.leaching_share))

    around(monkeypatch, watering, "requirement", change)


def the_net_requirement_is_applied(monkeypatch):
    monkeypatch.setattr(watering, "requirement", lambda net, delivery: Requirement(net, net, delivery.flushing_mm))


def the_yield_falls_as_the_water_does(monkeypatch):
    def change(true, taken, could, response):
        return true(taken, could, replace(response, ky_low=1.0, ky_high=1.0))

    around(monkeypatch, simulated, "yield_left", change)


def rain_falls_through_a_tunnel(monkeypatch):
    monkeypatch.setattr(water_rows, "RAINPROOF_COVERS", ())


def rain_that_the_lid_catches_falls_on_the_bed_as_well(monkeypatch):
    monkeypatch.setattr(reservoir, "rain_on_soil_mm", lambda lid, rain, _: np.asarray(rain * lid.rain_reaching_share))


def a_tank_evaporates_as_if_it_had_no_lid(monkeypatch):
    def change(true, *given, **options):
        return replace(true(*given, **options), lidded_evaporation_share=1.0)

    around(monkeypatch, tank_season, "_lid", change)


def soil_between_the_plants_gives_nothing_off(monkeypatch):
    def change(true, *given):
        lack, evaporated = true(*given)
        return lack, 0 * evaporated

    around(monkeypatch, demand, "lack_after_a_day", change)


def coefficients_are_taken_as_printed_whatever_the_climate(monkeypatch):
    monkeypatch.setattr(demand, "points_in_climate", lambda points, *_: points)


def one_year_of_the_weather_stands_for_all(monkeypatch):
    monkeypatch.setattr(watering.SeasonYears, "applied_l_per_m2", property(lambda years: years.shown.applied_l_per_m2))


def salt_costs_the_most_that_it_can(monkeypatch):
    around(monkeypatch, simulated, "salt_loss_low_high", lambda true, *given: true(*given)[1:] * 2)


WATER_CASES = {
    the_delivery_share_is_forgotten_in_the_peak: all_computed,
    a_wick_leaches_too: all_computed,
    losses_and_leaching_are_added_up: salty_water_and_poor_efficiency,
    the_net_requirement_is_applied: all_computed,
    the_yield_falls_as_the_water_does: furrows_and_less_water_than_needed,
    rain_falls_through_a_tunnel: under_a_tunnel,
    rain_that_the_lid_catches_falls_on_the_bed_as_well: all_computed,
    a_tank_evaporates_as_if_it_had_no_lid: all_computed,
    soil_between_the_plants_gives_nothing_off: all_computed,
    coefficients_are_taken_as_printed_whatever_the_climate: all_computed,
    one_year_of_the_weather_stands_for_all: three_years_of_weather,
    salt_costs_the_most_that_it_can: salty_water_and_poor_efficiency,
}
