"""Faults to put into the library, one at a time, that a master check must find on the demo.

Each function takes pytest's monkeypatch and puts one believable mistake where the library looks the thing up; its
name says what the library then does wrong. `FAULTS` pairs it with the first words of the check that goes red.
"""

from dataclasses import replace

import numpy as np
import pytest

from plotworth.choose import evaluate, figures, season, system, worth
from plotworth.choose.season import SeasonYear
from plotworth.choose.system import SystemYear
from plotworth.money.labour import Hours, Work

Patch = pytest.MonkeyPatch


def what_is_sold_is_taken_before_losses(patch: Patch) -> None:
    true = season.kilogram_chain

    def chain(*given):
        made = true(*given)
        return replace(made, sold=made.marketable - made.eaten)

    patch.setattr(season, "kilogram_chain", chain)


def a_difference_is_without_less_with(patch: Patch) -> None:
    true = worth.Worth.less
    patch.setattr(worth.Worth, "less", lambda self, other: true(other, self))


def the_residual_is_left_out_of_the_present_value(patch: Patch) -> None:
    true = worth.present_values
    patch.setattr(worth, "present_values", lambda *given: replace(true(*given), released=np.zeros((1, 1))))


def every_discount_factor_is_a_year_late(patch: Patch) -> None:
    true = worth.discount_factors
    patch.setattr(worth, "discount_factors", lambda rate, years: true(rate, years) / (1.0 + rate))


def the_benefit_leaves_out_what_is_eaten(patch: Patch) -> None:
    patch.setattr(SeasonYear, "benefit", property(lambda self: self.sales))


def sales_are_of_all_marketable_kilograms(patch: Patch) -> None:
    whole = property(lambda self: self.farm_gate_price_per_kg * self.chain.marketable)
    patch.setattr(SeasonYear, "sales", whole)


def delivery_is_multiplied_and_not_divided_by(patch: Patch) -> None:
    _change_season(patch, lambda year, plan, values: replace(
        year, water_l_per_m2=year.water_applied_l_per_m2 * values[plan.addresses["delivery_share"]]))  # fmt: skip


def water_of_the_year_is_of_the_gross_area(patch: Patch) -> None:
    _change_season(patch, lambda year, plan, values: replace(
        year, water_m3=year.water_m3 / values[plan.addresses["planted_share"]]))  # fmt: skip


def carrying_hours_count_twice(patch: Patch) -> None:
    true = system._with_carrying
    patch.setattr(system, "_with_carrying", lambda work, *given: true(true(work, *given), *given))


def hours_of_the_harvest_are_forgotten(patch: Patch) -> None:
    true = system.plan_work
    none = Hours(np.zeros((1, 1)), np.zeros((1, 1)))

    def planned(*given):
        work = true(*given)
        return Work(work.steady, (none,) * len(work.harvest))

    patch.setattr(system, "plan_work", planned)


def hired_hours_are_paid_the_family_wage(patch: Patch) -> None:
    alike = property(lambda self: (self.family_hours + self.hired_hours) * self.wages.family)
    patch.setattr(SystemYear, "labour_cost", alike)


def running_cost_leaves_out_what_falls_away_with_the_harvest(patch: Patch) -> None:
    patch.setattr(SystemYear, "running_cost", property(lambda self: self.amounts.steady))


def the_annual_value_is_spread_over_a_year_too_many(patch: Patch) -> None:
    true = worth.equivalent_annual_value
    patch.setattr(worth, "equivalent_annual_value", lambda npv, rate, years: true(npv, rate, years + 1))


def an_outcome_has_a_name_that_the_glossary_does_not_know(patch: Patch) -> None:
    true = figures.physical_figures

    def more(*given):
        made = true(*given)
        return {**made, "margin": made["sales"]}

    patch.setattr(evaluate, "physical_figures", more)


def _change_season(patch: Patch, change) -> None:
    true = system.grow
    patch.setattr(system, "grow", lambda plan, values: change(true(plan, values), plan, values))


FAULTS = {
    what_is_sold_is_taken_before_losses: "marketable kilograms",
    a_difference_is_without_less_with: "every difference in NPV",
    the_residual_is_left_out_of_the_present_value: "NPV of every system",
    every_discount_factor_is_a_year_late: "NPV of every system",
    the_benefit_leaves_out_what_is_eaten: "kilograms at the farm-gate price",
    sales_are_of_all_marketable_kilograms: "kilograms at the farm-gate price",
    delivery_is_multiplied_and_not_divided_by: "water drawn x delivery",
    water_of_the_year_is_of_the_gross_area: "water drawn x delivery",
    carrying_hours_count_twice: "hours of the labour plan",
    hours_of_the_harvest_are_forgotten: "hours of the labour plan",
    hired_hours_are_paid_the_family_wage: "labour cost is hours x wages",
    running_cost_leaves_out_what_falls_away_with_the_harvest: "labour cost is hours x wages",
    the_annual_value_is_spread_over_a_year_too_many: "the equivalent annual value",
    an_outcome_has_a_name_that_the_glossary_does_not_know: "every outcome has its unit",
}
"""Each fault with the first words of the check that it turns red."""
