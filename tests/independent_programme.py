"""A programme in the second appraisal: one year's joiners after another, one of their own years after another.

Plain Python, from the method statement: those who join in year c invest at time c - 1; who leaves does so at a year's
end. Everything that anybody receives or pays is an entry at its time, and every figure a sum over entries.
"""

import math

from independent import yearly
from independent_views import ECONOMIC, ViewedFarm, changes_of, viewed

KG_PER_T = 1000


def programme(own):
    """Return the figures of the programme of a case, None where it states none."""
    stated = own.settings.get("programme")
    if stated is None:
        return None
    folder = viewed(own, changes_of(ECONOMIC), ECONOMIC)
    farms = [ViewedFarm(folder, name) for name in (stated["system"], folder.settings["today"])]
    return Course(stated, folder, farms).run()


def adopted(stated, year):
    """Return how many households have adopted by the end of a year: logistic, half of the ceiling at its midpoint."""
    steepness = (math.log(0.9 / 0.1) - math.log(0.1 / 0.9)) / stated["years_from_10_to_90_percent"]
    share = stated["adoption_ceiling_share"] / (1 + math.exp(-steepness * (year - stated["midpoint_year"])))
    return stated["households"] * share


class Course:
    """What a programme brings and takes, by time 0..n-1+T."""

    def __init__(self, stated, folder, farms):
        self.stated, self.folder, self.farms = stated, folder, farms
        self.years, self.horizon = stated["years"], folder.years
        self.flows = [yearly(farm.ledger()) for farm in farms]
        length = self.years + self.horizon
        names = ("joining", "taking_part", "household_flows", "costs", "paid_out", "less_water_m3", "more_kg")
        self.of = {name: [0.0] * length for name in names}

    def run(self):
        """Let every year's joiners run through, pay the fixed part, and add up."""
        before = 0.0
        for year in range(1, self.years + 1):
            so_far = adopted(self.stated, year)
            self.cohort(year - 1, so_far - before)
            self.pay(year, self.stated.get("fixed_cost_per_year", 0))
            before = so_far
        return self.of | self.figures()

    def pay(self, time, money):
        """Let the programme spend money at a time."""
        self.of["costs"][time] += money
        self.of["paid_out"][time] += money

    def cohort(self, start, joiners):
        """Follow those who join at one time through their own years."""
        with_it, without = self.flows
        self.of["joining"][start] += joiners
        self.of["household_flows"][start] += joiners * (with_it[0] - without[0])
        self.pay(start, joiners * self.stated.get("cost_per_household", 0))
        self.of["paid_out"][start] += joiners * self.stated.get("grant_per_household", 0)
        still_in = joiners
        for own in range(1, self.horizon + 1):
            time = start + own
            self.of["taking_part"][time] += still_in
            self.of["household_flows"][time] += still_in * (with_it[own] - without[own])
            self.of["less_water_m3"][time] += still_in * (self.water(1) - self.water(0))
            self.of["more_kg"][time] += still_in * (self.kilograms(0, own) - self.kilograms(1, own))
            if own <= self.stated.get("follow_up_years", 0):
                self.pay(time, still_in * self.stated["follow_up_cost_per_household_year"])
            still_in -= still_in * self.stated.get("drop_out_share_per_year", 0)

    def water(self, which):
        """Return the cubic metres that a household draws in a year."""
        return sum(season.water_m3 for season in self.farms[which].grown)

    def kilograms(self, which, year):
        """Return the marketable kilograms of the main crop in a household's own year."""
        seasons = [season for season in self.farms[which].grown if season.crop == self.folder.main_crop]
        return sum(season.marketable * season.harvest_in(year) for season in seasons)

    def worth(self, name):
        """Return a course of sums discounted to the programme's start."""
        return sum(each / (1 + self.folder.rate) ** time for time, each in enumerate(self.of[name]))

    def figures(self):
        """Return what the programme comes to; None where there is nothing to divide by."""
        households = sum(self.of["joining"])
        over = lambda sum_, by: sum_ / by if by > 0 else None  # noqa: E731
        return {
            "households": households,
            "npv": self.worth("household_flows") - self.worth("costs"),
            "gain_per_household": over(self.worth("household_flows"), households),
            "paid_out_per_household": over(sum(self.of["paid_out"]), households),
            "paid_out_per_m3": over(self.worth("paid_out"), self.worth("less_water_m3")),
            "paid_out_per_t": over(self.worth("paid_out"), self.worth("more_kg") / KG_PER_T),
        }
