"""A second opinion on a season's water: what the crop takes, what is given, what a tank makes of it, in plain Python.

Written from FAO Irrigation and Drainage Paper 56 (equation numbers are the paper's), from the method statement and
from what the library says its quantities mean; one day after another, one number at a time. 1 mm is 1 l per m2.
"""

import csv
import datetime
import itertools
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from independent_tank import flow_from_days_to_empty, follow_tank, steady
from independent_trial import number, read_rows
from independent_weather import season_days

HANDBOOK = Path(__file__).parents[1] / "lib" / "plotworth" / "ground" / "tables"
HANDBOOK_METHOD = {"drip": "drip", "furrow": "surface", "sprinkler": "sprinkler"}
DAYS_OF_A_WHOLE_MONTH = 15
WATER_NAMES = (
    "water_applied_l_per_m2",
    "peak_requirement_l_per_m2_per_day",
    "water_limited_share",
    "salt_limited_share",
)


def water_worked_out(book, name, system, crop, season):
    """Return a value of a season's water whose row in the book says `computed`."""
    if name == "peak_requirement_l_per_m2_per_day":
        return peak_requirement(book, system)
    if name == "salt_limited_share":
        return salt_limited_share(book, system, crop, season)
    years = Plan(book, system, crop, season).years()
    if name == "water_applied_l_per_m2":
        return sum(year.applied_mm for year in years) / len(years)
    applied = book.find("water_applied_l_per_m2", system, crop, season)
    return sum(left_by_short_water(year, applied) for year in years) / len(years)


def handbook_rows(table, **keys):
    """Return the rows of a shipped table that read as told."""
    with (HANDBOOK / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if all(row[key] == word for key, word in keys.items())]


def numbers_of(table, *columns, **keys):
    """Return numbers of the first row of a shipped table that reads as told, None for a blank."""
    row = handbook_rows(table, **keys)[0]
    return [float(row[column]) if row[column] else None for column in columns]


@dataclass
class Year:
    """A season in one year: its days and what was found of them; `tank` is what became of it, if there is one."""

    plan: Any
    days: list
    demand: dict
    gross_mm: list
    tank: dict | None

    @property
    def applied_mm(self):
        """All that is poured on, or into the tank less what is left in it, and to flush."""
        return sum(self.gross_mm) if self.tank is None else self.tank["applied_mm"] + self.plan.flushing_mm


class Plan:
    """A season of a system as the book states it."""

    def __init__(self, book, system, crop, season):
        self.get = lambda name, default=None: book.get(name, default, system, crop, season)
        self.book, self.system, self.crop = book, system, crop
        self.setting = next(s for s in book.settings["systems"] if s["id"] == system)
        self.row = next(r for r in read_rows(book.path, "seasons") if (r["system"], r["season"]) == (system, season))
        self.method, cover = self.setting["water_method"], self.setting.get("cover", "none")
        self.from_tank = self.method == "reservoir"
        self.demand_share = 1.0 if cover == "none" else self.get("cover_demand_share")
        self.rain_share = 0.0 if cover in ("tunnel", "house") else 1.0
        self.flushing_mm = self.get("flushing_l_per_m2", 0.0)
        self.efficiency = self.get("application_efficiency_share")
        if self.efficiency is None:
            method = HANDBOOK_METHOD.get(self.method)
            self.efficiency = (
                1.0 if self.from_tank else numbers_of("application_efficiencies", "share", method=method)[0]
            )

    def years(self):
        """Return the season in every year that the weather covers."""
        weather = self.book.weather
        found = {}
        for start in self.starts(weather):
            days = season_days(weather, start, self.length(start))
            if days is not None:
                found[start] = days
        if not self.from_tank:
            return [self.year(days, None) for days in found.values()]
        shown = found[self.planted_on() or max(found)]
        wick = self.wick()
        if wick is None:
            wick = steady(flow_from_days_to_empty(self.unit(), shown, self.demand(shown)["use"], self.get))
        return [self.year(days, wick) for days in found.values()]

    def wick(self):
        """Return the wick as its flow or its make is stated, q = K A (suction - lift) / length; None without either."""
        flow, conductivity = self.get("wick_flow_l_per_day"), self.get("wick_conductivity_m_per_day")
        if flow is not None:
            return steady(flow)
        if conductivity is None:
            return None
        section, length = self.get("wick_area_m2_per_unit"), self.get("wick_length_m")
        heads = {"wet": "soil_suction_wet_m", "dry": "soil_suction_dry_m", "limit": "wick_limit_m"}
        heads |= {"full": "wick_lift_full_m", "empty": "wick_lift_empty_m"}
        return {"conductance": 1000 * conductivity * section / length} | {k: self.get(n) for k, n in heads.items()}

    def visits(self):
        """Return who comes when: as the table says, else somebody who fills up every so many days."""
        rows = [row for row in read_rows(self.book.path, "visits") if row["system"] == self.system]
        own = [row for row in rows if row["season"] in ("", self.row["season"])]
        if not own:
            every = int(self.get("refill_interval_days"))
            return [{"first_day": every + 1, "every": every, "litres": None}]
        return [
            {"first_day": int(row["first_day"]), "every": int(row["every_days"]), "litres": number(row["litres"])}
            for row in own
        ]

    def planted_on(self):
        """Return the day on which the system's plots of the crop were planted, None without any."""
        treatment = self.setting.get("treatment")
        rows = [r for r in read_rows(self.book.path, "plots") if (r["treatment"], r["crop"]) == (treatment, self.crop)]
        return min((datetime.date.fromisoformat(r["planted_on"]) for r in rows if r["planted_on"]), default=None)

    def starts(self, weather):
        """Return the day of planting in every year of the weather."""
        own = self.planted_on() or datetime.date(min(weather).year, int(self.row["first_month"]), 1)
        return [own.replace(year=year) for year in range(min(weather).year, max(weather).year + 1)]

    def length(self, start):
        """Return how many days the season grows: as stated, else its calendar months."""
        stated = self.get("growing_days")
        if stated is not None:
            return int(stated)
        month = start.month - 1 + int(self.row["months"])
        return (start.replace(year=start.year + month // 12, month=month % 12 + 1) - start).days

    def year(self, days, wick):
        """Return the season of one year."""
        demand = self.demand(days)
        more = 1 / self.efficiency
        if not self.from_tank:
            more = max(more, 1 / (1 - self.leaching()))
        tank = None if not self.from_tank else follow_tank(self.unit(), days, demand["use"], wick)
        return Year(self, days, demand, [net * more for net in demand["net"]], tank)

    def leaching(self):
        """Return the share of the water that must drain: ECw / (5 ECe - ECw), FAO-56 p. 180."""
        water = self.get("water_salinity_ds_m")
        return 0.0 if water is None else water / (5 * self.get("soil_salinity_ds_m") - water)

    def unit(self):
        """Return one tank, its bed, soil, lid and visits."""
        names = ("tank_l_per_unit", "m2_per_unit", "lid_m2_per_unit", "lid_rain_caught_share")
        names += ("tank_surface_m2_per_unit", "lidded_evaporation_share")
        unit = {name: self.get(name) for name in names} | {"visits": self.visits()}
        unit["dew_l_per_m2"] = self.get("dew_l_per_m2", 0.0)
        unit["available_mm"] = self.get("available_water_mm_per_m") * self.get("rooting_depth_m")
        unit["depletion_share"] = numbers_of("crop_rooting", "depletion_share", crop=self.crop)[0]
        return unit | {"rain_share": self.rain_share, "demand_share": self.demand_share}

    def stage_ends(self, length):
        """Return the last days of the four stages of a season of this length, in proportion to the handbook's."""
        row = handbook_rows("crop_stages", crop=self.crop)[int(self.get("stage_row", 1)) - 1]
        stages = [int(row[f"{name}_days"]) for name in ("initial", "development", "mid", "late")]
        return [round(sum(stages[: last + 1]) * length / sum(stages)) for last in range(4)]

    def basal(self, days):
        """Return the basal coefficient of every day (eq 66, mid and end by eq 70) and the height of the crop [m]."""
        columns = ("basal_initial", "basal_mid", "basal_end", "height_m", "mid", "mid_staked")
        initial, mid, end, height, single, staked = numbers_of("crop_coefficients", *columns, crop=self.crop)
        if self.get("staked", 0):
            mid += staked - single
            height = (
                sum(numbers_of("crop_coefficients", "staked_height_low_m", "staked_height_high_m", crop=self.crop)) / 2
            )
        ends = self.stage_ends(len(days))
        mid += mean_dryness(days[ends[1] : ends[2]] or days, height)
        if end >= 0.45:
            end += mean_dryness(days[ends[2] :] or days, height)
        knots = [(0, initial), (ends[0], initial), (ends[1], mid), (ends[2], mid), (ends[3], end)]
        return [on_line(knots, day) for day in range(1, len(days) + 1)], height

    def demand(self, days):
        """Return what the crop uses, what rain serves and what is given by day [mm]: eq 69 and eq 85."""
        basal, height = self.basal(days)
        ground = Ground(self)
        every = 1 if self.from_tank else int(self.get("watering_interval_days"))
        depletion, given, series = 0.0, 0.0, {"reference": [], "use": [], "rain": [], "effective": [], "net": []}
        for place, (day, coefficient) in enumerate(zip(days, basal, strict=True)):
            reference, fall = day["reference"] * self.demand_share, day["rain"] * self.rain_share
            most = max(1.2 + dryness(day["wind"], day["rh_min"], height), coefficient + 0.05)  # eq 72
            use = coefficient * reference + ground.evaporate(coefficient, most, height, reference, fall, given)
            rain = fall * ground.rain_entering
            effective = min(rain, depletion + use)
            depletion += use - effective
            given = depletion if (place + 1) % every == 0 or place == len(days) - 1 else 0.0
            depletion -= given
            for name, value in zip(series, (reference, use, rain, effective, given), strict=True):
                series[name].append(value)
        return series


class Ground:
    """The surface of the soil in two strips: one that watering wets, wet at planting, one that rain alone wets, dry.

    FAO-56 chapter 7 for each; the energy that the crop leaves goes to them by the water that lies open in each.
    """

    def __init__(self, plan):
        self.total, self.ready = plan.get("evaporable_water_mm"), plan.get("readily_evaporable_water_mm")
        self.at_the_plant = plan.method == "drip"
        if plan.from_tank:  # it wets no surface, its lid covers some and lets the rain run off that it does not catch
            self.wetted, self.covered = 0.0, plan.get("lid_m2_per_unit") / plan.get("m2_per_unit")
            self.rain_entering = 1 - self.covered * plan.get("lid_rain_caught_share")
        else:
            self.wetted, self.covered, self.rain_entering = (
                plan.get("wetted_share"),
                plan.get("covered_share", 0.0),
                1.0,
            )
        self.lack = [0.0, self.total]

    def evaporate(self, basal, most, height, reference, rain, given):
        """Return what the soil gives off on a day [mm], after its rain and the watering of the evening before."""
        on_strips = (rain + (given / self.wetted if self.wetted else 0.0), rain)
        self.lack = [max(lack - water, 0.0) for lack, water in zip(self.lack, on_strips, strict=True)]  # eq 77
        open_share = self.open_shares(basal, most, height)
        lying = [share * (self.total - lack) for share, lack in zip(open_share, self.lack, strict=True)]
        lost = 0.0
        for strip in (0, 1):
            part = lying[strip] / sum(lying) if sum(lying) > 0 else 0.0
            slowed = min((self.total - self.lack[strip]) / (self.total - self.ready), 1.0)  # eq 74
            coefficient = min(slowed * part * (most - basal), open_share[strip] * most)  # eq 71
            evaporated = min(coefficient * reference, lying[strip])
            if open_share[strip] > 0:
                self.lack[strip] += evaporated / open_share[strip]
                lost += evaporated
        return lost

    def open_shares(self, basal, most, height):
        """Return the share of the ground that each strip shows to sun and air: eq 75 and 76."""
        shade = min(max((basal - 0.15) / max(most - 0.15, 0.01), 0.0), 1.0) ** (1 + 0.5 * height)
        bare = min(1 - shade, 1 - self.covered)
        watered = min(bare, self.wetted * (1 - 2 / 3 * shade if self.at_the_plant else 1))
        return watered, bare - watered


def dryness(wind, rh_min, height):
    """Return what wind, dry air and height add to a coefficient, within the paper's limits: eq 62, 65, 70 and 72."""
    wind, rh_min, height = min(max(wind, 1), 6), min(max(rh_min, 20), 80), min(max(height, 0.1), 10)
    return (0.04 * (wind - 2) - 0.004 * (rh_min - 45)) * (height / 3) ** 0.3


def mean_dryness(days, height):
    """Return the same with the means over the days of a stage."""
    wind, rh_min = (sum(day[name] for day in days) / len(days) for name in ("wind", "rh_min"))
    return dryness(wind, rh_min, height)


def on_line(knots, day):
    """Return the value on straight lines between knots (day, value)."""
    for (before, low), (after, high) in itertools.pairwise(knots):
        if before < day <= after:
            return low + (day - before) / (after - before) * (high - low)
    raise ValueError(day)


def peak_requirement(book, system):
    """Return the most that a planted m2 needs from the source on a day [l], as the mean of a month of any year.

    Seasons of one month are added by their share of the ground; a month of which all have under 15 days is none.
    """
    by_month, longest = {}, {}
    for row in read_rows(book.path, "seasons"):
        if row["system"] == system:
            plan = Plan(book, system, row["crop"], row["season"])
            for year in plan.years():
                for month, days in months_of(year).items():
                    drawn = sum(days) / len(days) / plan.get("delivery_share", 1) * float(row["share_of_area"])
                    by_month[month] = by_month.get(month, 0) + drawn
                    longest[month] = max(longest.get(month, 0), len(days))
    whole = [month for month, days in longest.items() if days >= DAYS_OF_A_WHOLE_MONTH]
    return max(by_month[month] for month in whole or by_month)


def months_of(year):
    """Return {(year, month): gross requirement of each day} of a season's months."""
    months = {}
    for day, mm in zip(year.days, year.gross_mm, strict=True):
        months.setdefault((day["date"].year, day["date"].month), []).append(mm)
    return months


def left_by_short_water(year, applied):
    """Return the share of the yield that a season's water leaves: eq 90, middle of the range of Ky."""
    could = sum(year.demand["use"])
    if year.tank is None:
        taken = min(applied * year.plan.efficiency + sum(year.demand["effective"]), could)
    else:
        taken = sum(year.tank["uptake"])
    factors = numbers_of("crop_yield_response", "ky_low", "ky_high", crop=year.plan.crop)
    return sum(max(1 - factor * (1 - taken / could), 0.0) for factor in factors) / len(factors)


def salt_limited_share(book, system, crop, season):
    """Return the share of the yield that the salt in the soil leaves: 1 - b (ECe - a), middle of the least and most."""
    salt = book.find("soil_salinity_ds_m", system, crop, season)
    columns = ("threshold_low_ds_m", "threshold_high_ds_m", "slope_low_pct", "slope_high_pct")
    low, high, gentle, steep = numbers_of("crop_salt", *columns, crop=crop)
    left = (1 - steep / 100 * (salt - low), 1 - gentle / 100 * (salt - high))
    return sum(min(max(share, 0.0), 1.0) for share in left) / len(left)
