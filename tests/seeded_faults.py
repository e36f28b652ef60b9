"""Faults to put into the library, one at a time, so that the second appraisal can show that it would find them.

Each function takes pytest's monkeypatch and puts one believable mistake where the library looks the thing up; its
name says what the library then does wrong. `CASES` names the copy of the demo on which the fault shows.
"""

from dataclasses import replace

import numpy as np

from independent_cases import as_it_is, every_basis, large_and_short
from independent_trial_cases import two_trial_years
from plotworth.choose import evaluate, measured, season, system, worth
from plotworth.field import block_model, masses
from plotworth.field.arrangement import completely_randomised
from plotworth.money import cashflow, costs
from plotworth.money.labour import Hours, Work

ONE = np.ones((1, 1))
LITRES_PER_M3 = 1000


def around(monkeypatch, module, name, change):
    """Replace a function of a module by `change(the function, *its arguments)`."""
    true = getattr(module, name)
    monkeypatch.setattr(module, name, lambda *given, **options: change(true, *given, **options))


def change_bill(monkeypatch, change):
    """Change what a system's cost lines add up to."""
    around(monkeypatch, system, "add_up", lambda true, *given: change(true(*given)))


def change_lines(monkeypatch, change):
    """Change every cost line before it is counted."""
    around(monkeypatch, system, "add_up", lambda true, lines, *given: true([change(line) for line in lines], *given))


def change_season(monkeypatch, change):
    """Change a season once it has grown: `change(season, its plan, values)`."""
    around(monkeypatch, system, "grow", lambda true, plan, values: change(true(plan, values), plan, values))


def change_system(monkeypatch, change):
    """Change a system once it has been put together, before its flows are laid out."""
    around(monkeypatch, evaluate, "run_system", lambda true, *given: change(true(*given)))


def a_replacement_is_bought_in_the_last_year_too(monkeypatch):
    monkeypatch.setattr(cashflow, "replacement_years", lambda life, horizon: range(0, horizon + 1, life))


def the_residual_is_forgotten(monkeypatch):
    change_bill(monkeypatch, lambda bill: replace(bill, residual=0 * bill.residual))


def what_is_buried_has_a_residual_too(monkeypatch):
    change_lines(monkeypatch, lambda line: replace(line, residual_share=line.residual_share or 0.2))


def the_residual_is_of_the_years_used_and_not_of_the_years_left(monkeypatch):
    around(monkeypatch, costs, "unexpired_share", lambda true, *given: 1 - true(*given))


def unexpired_years_count_from_the_first_purchase_only(monkeypatch):
    monkeypatch.setattr(costs, "unexpired_share", lambda life, horizon: max(life - horizon, 0) / life)


def capacity_steps_are_rounded_down(monkeypatch):
    monkeypatch.setattr(costs, "capacity_steps", lambda area, step: np.maximum(np.floor(area / step), 1))


def a_line_of_every_season_is_paid_once_a_year(monkeypatch):
    def change(line):
        return replace(line, seasons=line.seasons[:1]) if line.group == "seasonal" else line

    change_lines(monkeypatch, change)


def hours_of_cost_lines_are_left_out_of_hired_hours(monkeypatch):
    change_bill(monkeypatch, lambda bill: replace(bill, hours=0 * bill.hours))


def a_yearly_line_takes_the_plants_of_all_seasons_together(monkeypatch):
    def change(true, basis, sizes, at):
        return sum(sizes.plants) if basis == "plant" and at is None else true(basis, sizes, at)

    around(monkeypatch, costs, "_by_season", change)


def flows_are_discounted_from_year_1_on_by_a_year_too_little(monkeypatch):
    def change(true, rate, years):
        factors = true(rate, years)
        return np.concatenate([factors[:1], factors[:-1]])

    around(monkeypatch, worth, "discount_factors", change)


def learning_is_applied_twice(monkeypatch):
    # In the last year all is learnt, so a year's weight over the last year's is what was learnt by then.
    change_system(monkeypatch, lambda own: replace(own, weights=tuple(w * (w / w[-1]) for w in own.weights)))


def a_failed_season_still_pays_for_picking_and_selling(monkeypatch):
    def change(own):
        amounts = own.amounts
        steady, none = sum(amounts.harvest_cost, start=amounts.steady), tuple(0 * c for c in amounts.harvest_cost)
        return replace(own, amounts=replace(amounts, steady=steady, harvest_cost=none))

    change_system(monkeypatch, change)


def a_failed_season_saves_its_carrying_and_weeding(monkeypatch):
    def change(own):
        amounts = own.amounts
        moved = tuple(d + h for d, h in zip(own.direct, amounts.harvest_cost, strict=True))
        return replace(own, amounts=replace(amounts, steady=amounts.steady - sum(own.direct), harvest_cost=moved))

    change_system(monkeypatch, change)


def working_capital_is_never_released(monkeypatch):
    def change(own):
        amounts = own.amounts
        return replace(own, amounts=replace(amounts, residual=amounts.residual - amounts.working_capital))

    change_system(monkeypatch, change)


def working_capital_covers_picking_and_selling_as_well(monkeypatch):
    def change(own):
        share = own.amounts.working_capital / own.amounts.steady
        return replace(own, amounts=replace(own.amounts, working_capital=share * own.running_cost))

    change_system(monkeypatch, change)


def water_is_paid_and_carried_as_applied_and_not_as_drawn(monkeypatch):
    def change(grown, *_):
        drawn_per_applied = grown.water_l_per_m2 / grown.water_applied_l_per_m2
        water, hours = grown.water_m3 / drawn_per_applied, grown.carrying_h / drawn_per_applied
        return replace(grown, water_m3=water, carrying_h=hours)

    change_season(monkeypatch, change)


def the_planted_share_is_forgotten_in_water(monkeypatch):
    def change(grown, plan, values):
        return replace(grown, water_m3=grown.water_l_per_m2 * values["area_m2"] * plan.share_of_area / LITRES_PER_M3)

    change_season(monkeypatch, change)


def the_commission_is_forgotten(monkeypatch):
    def change(grown, plan, values):
        price, transport = (values[plan.addresses[n]] for n in ("market_price_per_kg", "transport_cost_per_kg"))
        return replace(grown, farm_gate_price_per_kg=price - transport)

    change_season(monkeypatch, change)


def farms_harvest_what_the_trial_did(monkeypatch):
    def change(true, plan, values):
        return true(plan, {**values, plan.addresses["trial_to_farm_share"]: ONE})

    around(monkeypatch, system, "grow", change)


def culls_are_taken_from_what_is_marketable(monkeypatch):
    def change(true, yield_kg, area, culls, *given):
        return true(yield_kg * (1 - culls), area, culls, *given)

    around(monkeypatch, season, "kilogram_chain", change)


def kilograms_eaten_at_home_are_worth_nothing(monkeypatch):
    monkeypatch.setattr(season.SeasonYear, "benefit", season.SeasonYear.sales)


def family_and_hired_hours_are_swapped(monkeypatch):
    def swapped(hours):
        return tuple(Hours(each.hired, each.family) for each in hours)

    def change(true, *given):
        work = true(*given)
        return Work(swapped(work.steady), swapped(work.harvest))

    around(monkeypatch, system, "plan_work", change)


def differences_are_taken_the_wrong_way_round(monkeypatch):
    true = worth.Worth.less
    monkeypatch.setattr(worth.Worth, "less", lambda own, other: true(other, own))


def finance_and_reinvestment_rate_are_swapped(monkeypatch):
    def change(true, flows, finance, reinvestment):
        return true(flows, reinvestment, finance)

    around(monkeypatch, worth, "modified_rate_of_return", change)


def the_equivalent_annual_value_is_paid_at_the_start_of_each_year(monkeypatch):
    def change(true, npv, rate, years):
        return true(npv, rate, years) / (1 + rate)

    around(monkeypatch, worth, "equivalent_annual_value", change)


def payback_is_told_in_whole_years(monkeypatch):
    around(monkeypatch, worth, "payback_years", lambda true, flows: np.ceil(true(flows)))


def the_goat_eaten_plot_counts_as_a_yield_of_zero(monkeypatch):
    def change(true, *given, **options):
        plots = true(*given, **options)
        return plots.assign(**plots[["yield_kg_per_m2", "fruits_per_m2"]].fillna(0))

    around(monkeypatch, measured, "plot_yields", change)


def the_goat_eaten_plot_counts_in_the_mean_of_water(monkeypatch):
    monkeypatch.setattr(measured, "without_lost_plots", lambda ledger, _: ledger)


def water_left_in_the_tanks_counts_as_applied(monkeypatch):
    def change(true, *given):
        ledger = true(*given)
        return ledger.assign(applied_l_per_m2=ledger["applied_l_per_m2"] + ledger["left_over_l_per_m2"])

    around(monkeypatch, measured, "plot_ledger", change)


def fruit_masses_are_averaged_over_the_crop(monkeypatch):
    monkeypatch.setattr(masses, "LEVELS", masses.LEVELS[-1:])


def the_trial_s_values_are_plain_means_over_plots(monkeypatch):
    def change(true, plots, _, **options):
        return true(plots, completely_randomised("treatment"), **options)

    around(monkeypatch, measured, "block_models", change)


def plots_are_weighed_as_if_whole_plots_did_not_differ(monkeypatch):
    monkeypatch.setattr(block_model, "_variance_ratio", lambda _: 0.0)


def trial_years_are_pooled(monkeypatch):
    around(monkeypatch, measured, "_units", lambda true, *given: true(*given).assign(trial_year=""))


CASES = {
    a_replacement_is_bought_in_the_last_year_too: as_it_is,
    the_residual_is_forgotten: as_it_is,
    what_is_buried_has_a_residual_too: as_it_is,
    the_residual_is_of_the_years_used_and_not_of_the_years_left: as_it_is,
    unexpired_years_count_from_the_first_purchase_only: as_it_is,
    capacity_steps_are_rounded_down: large_and_short,
    a_line_of_every_season_is_paid_once_a_year: as_it_is,
    hours_of_cost_lines_are_left_out_of_hired_hours: as_it_is,
    a_yearly_line_takes_the_plants_of_all_seasons_together: every_basis,
    flows_are_discounted_from_year_1_on_by_a_year_too_little: as_it_is,
    learning_is_applied_twice: as_it_is,
    a_failed_season_still_pays_for_picking_and_selling: as_it_is,
    a_failed_season_saves_its_carrying_and_weeding: as_it_is,
    working_capital_is_never_released: as_it_is,
    working_capital_covers_picking_and_selling_as_well: as_it_is,
    water_is_paid_and_carried_as_applied_and_not_as_drawn: as_it_is,
    the_planted_share_is_forgotten_in_water: as_it_is,
    the_commission_is_forgotten: as_it_is,
    farms_harvest_what_the_trial_did: as_it_is,
    culls_are_taken_from_what_is_marketable: as_it_is,
    kilograms_eaten_at_home_are_worth_nothing: as_it_is,
    family_and_hired_hours_are_swapped: as_it_is,
    differences_are_taken_the_wrong_way_round: as_it_is,
    finance_and_reinvestment_rate_are_swapped: large_and_short,
    the_equivalent_annual_value_is_paid_at_the_start_of_each_year: as_it_is,
    payback_is_told_in_whole_years: as_it_is,
    the_goat_eaten_plot_counts_as_a_yield_of_zero: as_it_is,
    the_goat_eaten_plot_counts_in_the_mean_of_water: as_it_is,
    water_left_in_the_tanks_counts_as_applied: as_it_is,
    fruit_masses_are_averaged_over_the_crop: as_it_is,
    the_trial_s_values_are_plain_means_over_plots: as_it_is,
    plots_are_weighed_as_if_whole_plots_did_not_differ: as_it_is,
    trial_years_are_pooled: two_trial_years,
}
