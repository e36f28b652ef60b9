"""Faults to put into views, sizes, who works and the programme, one at a time, as in `seeded_faults`."""

from dataclasses import replace

import numpy as np

from independent_view_cases import (
    brought_for_longer_than_a_tank_lasts,
    brought_to_many,
    brought_with_drop_outs_and_follow_up,
    eaten_and_out_of_season,
    shared_by_all_in_steps,
    to_the_economy,
    wells_shared_under_drip,
    who_does_it,
)
from plotworth.choose import evaluate, programme, scale_ladder, views, who_works
from plotworth.choose.season import EATEN_COUNTED
from plotworth.choose.structure import AREA
from plotworth.ground.arrays import cell
from seeded_faults import around

WAGE = cell(0.3)


def change_view(monkeypatch, view, change):
    """Change what a view puts in the place of values: `change(what it puts there, layout, values)`."""
    true = views._CHANGES[view]
    altered = {**views._CHANGES, view: lambda layout, values: change(true(layout, values), layout, values)}
    monkeypatch.setattr(views, "_CHANGES", altered)


def without(put, names):
    """Return what a view puts in place, less the addresses that begin with one of the names."""
    return {at: value for at, value in put.items() if not at.startswith(names)}


def food_eaten_stays_in_the_cash_view(monkeypatch):
    change_view(monkeypatch, views.CASH, lambda put, *_: without(put, (EATEN_COUNTED,)))


def family_wages_stay_in_the_working_capital_of_the_cash_view(monkeypatch):
    def change(true, plan, values, *given):
        own = true(plan, values, *given)
        if EATEN_COUNTED not in values:
            return own
        waged = true(plan, {**values, plan.addresses["family_wage_per_hour"]: WAGE}, *given)
        return replace(own, amounts=replace(own.amounts, working_capital=waged.amounts.working_capital))

    around(monkeypatch, evaluate, "run_system", change)


def transfers_stay_in_the_economic_view(monkeypatch):
    change_view(monkeypatch, views.ECONOMIC, lambda put, *_: without(put, ("cost/drip/siting and permit",)))


def capital_is_taken_at_market_prices_by_the_economy(monkeypatch):
    change_view(monkeypatch, views.ECONOMIC, lambda put, *_: without(put, ("cost/",)))


def water_is_valued_as_applied_and_not_as_drawn(monkeypatch):
    def change(put, layout, values):
        delivered = values[layout.structure.system("drip").seasons[0].addresses["delivery_share"]]
        return {**put, views.WATER_VALUE: put[views.WATER_VALUE] * delivered}

    change_view(monkeypatch, views.ECONOMIC, change)


def the_economic_view_is_discounted_at_the_household_s_rate(monkeypatch):
    change_view(monkeypatch, views.ECONOMIC, lambda put, *_: without(put, ("discount_rate",)))


def one_crop_s_economic_price_holds_for_all(monkeypatch):
    def change(put, *_):
        factors = [at for at in put if at.startswith("view/value_factor/")]
        return {**put, **dict.fromkeys(factors, put[factors[0]])}

    change_view(monkeypatch, views.ECONOMIC, change)


def the_wage_out_of_season_is_the_full_wage(monkeypatch):
    def change(true, layout, values):
        seen = true(layout, values)
        return {**seen, views.OFF_SEASON_WAGE: seen[views.FULL_WAGE]}

    around(monkeypatch, views, "wage_views", change)


def households_of_a_larger_size_do_not_share(monkeypatch):
    def change(true, structure, ladder, shocks):
        return true(structure, {**ladder, "households_sharing": cell(5.0)}, shocks)

    around(monkeypatch, scale_ladder, "evaluate", change)


def only_the_first_system_s_households_are_counted(monkeypatch):
    around(monkeypatch, scale_ladder, "_sharing_addresses", lambda true, layout: true(layout)[:1])


def a_small_size_is_a_part_of_a_household(monkeypatch):
    def change(true, *given):
        own = float(given[1][AREA].flat[0])
        return [replace(row, households=row.area_m2 / own) for row in true(*given)]

    around(monkeypatch, scale_ladder, "size_rows", change)


def one_borehole_serves_any_number_of_households(monkeypatch):
    around(monkeypatch, scale_ladder, "households_served", lambda true, *given: dict.fromkeys(true(*given), np.inf))


def cohorts_all_start_in_the_first_year(monkeypatch):
    def change(true, stated):
        joined = true(stated)
        return np.concatenate([[joined.sum()], np.zeros(len(joined) - 1)])

    around(monkeypatch, programme, "joining", change)


def the_midpoint_of_adoption_is_a_year_late(monkeypatch):
    around(monkeypatch, programme, "adopted_share", lambda true, stated, year: true(stated, year - 1))


def drop_outs_are_counted_twice(monkeypatch):
    around(monkeypatch, programme, "staying_share", lambda true, *given: true(*given) ** 2)


def drop_outs_leave_before_their_first_harvest(monkeypatch):
    def change(true, stated, horizon):
        staying = true(stated, horizon)
        return np.concatenate([staying[:1], staying[2:], staying[-1:] * (1 - stated.drop_out_share_per_year)])

    around(monkeypatch, programme, "staying_share", change)


def a_grant_is_a_cost_to_the_economy(monkeypatch):
    def change(true, stated, joined, staying):
        return true(replace(stated, cost_per_household=stated.grant_per_household), joined, staying)

    around(monkeypatch, programme, "_costs", change)


def those_who_left_are_followed_up_too(monkeypatch):
    around(monkeypatch, programme, "_costs", lambda true, stated, joined, staying: true(stated, joined, staying**0))


def a_programme_pays_its_fixed_cost_a_year_early(monkeypatch):
    def change(true, stated, joined, staying):
        costs = true(stated, joined, staying)
        costs[: stated.years] += stated.fixed_cost_per_year
        costs[1 : stated.years + 1] -= stated.fixed_cost_per_year
        return costs

    around(monkeypatch, programme, "_costs", change)


def a_programme_counts_money_in_the_full_view(monkeypatch):
    monkeypatch.setattr(programme, "in_view", lambda _layout, values, _view: dict(values))


def who_works_counts_the_family_s_part_alone(monkeypatch):
    def change(true, layout, values, own):
        items = own.plan.labour
        family = {i.hours_address: values[i.hours_address] * values[i.family_share_address] for i in items}
        return true(layout, {**values, **family}, own)

    around(monkeypatch, who_works, "_of_system", change)


VIEW_CASES = {
    food_eaten_stays_in_the_cash_view: eaten_and_out_of_season,
    family_wages_stay_in_the_working_capital_of_the_cash_view: eaten_and_out_of_season,
    transfers_stay_in_the_economic_view: to_the_economy,
    capital_is_taken_at_market_prices_by_the_economy: to_the_economy,
    water_is_valued_as_applied_and_not_as_drawn: to_the_economy,
    the_economic_view_is_discounted_at_the_household_s_rate: to_the_economy,
    one_crop_s_economic_price_holds_for_all: to_the_economy,
    the_wage_out_of_season_is_the_full_wage: eaten_and_out_of_season,
    households_of_a_larger_size_do_not_share: shared_by_all_in_steps,
    only_the_first_system_s_households_are_counted: wells_shared_under_drip,
    a_small_size_is_a_part_of_a_household: shared_by_all_in_steps,
    one_borehole_serves_any_number_of_households: shared_by_all_in_steps,
    cohorts_all_start_in_the_first_year: brought_to_many,
    the_midpoint_of_adoption_is_a_year_late: brought_to_many,
    drop_outs_are_counted_twice: brought_with_drop_outs_and_follow_up,
    drop_outs_leave_before_their_first_harvest: brought_for_longer_than_a_tank_lasts,
    a_grant_is_a_cost_to_the_economy: brought_with_drop_outs_and_follow_up,
    those_who_left_are_followed_up_too: brought_with_drop_outs_and_follow_up,
    a_programme_pays_its_fixed_cost_a_year_early: brought_with_drop_outs_and_follow_up,
    a_programme_counts_money_in_the_full_view: brought_with_drop_outs_and_follow_up,
    who_works_counts_the_family_s_part_alone: who_does_it,
}
