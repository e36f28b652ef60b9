"""A second appraisal of a case folder, to be held against the library: plain Python, one year and one line at a time.

Written from the method statement alone. Everything that is received or paid becomes an entry in a ledger; every
figure is a sum over entries. Run `python tests/independent.py FOLDER` to read the figures.
"""

import json
import math
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

from independent_book import Book
from independent_market import borne, farm_gate_price, margins, per_family_day, price_factor
from independent_money import (
    benefit_cost_ratio,
    even_yearly_sum,
    internal_rate,
    modified_rate,
    payback_years,
    present_value,
)
from independent_trial import number, read_rows

L_PER_M3 = 1000
G_PER_KG = 1000
RECEIVED = ("sales", "eaten", "residual", "released")
CROP_FIGURES = (
    "yield_kg_per_m2",
    "water_applied_l_per_m2",
    "water_l_per_m2",
    "irrigation_productivity_kg_per_m3",
    "water_l_per_kg",
    "farm_gate_price_per_kg",
    "grown_kg",
    "marketable_kg",
    "lost_kg",
    "eaten_kg",
    "sold_kg",
)
# Ratios and prices of one system, and what only some systems have, are not subtracted.
NOT_SUBTRACTED = (
    "irrigation_productivity_kg_per_m3",
    "water_l_per_kg",
    "farm_gate_price_per_kg",
    "gross_margin_per_m3",
    "gross_margin_per_day",
    "gross_margin_per_unit",
    "gross_margin_per_100",
    "reservoir_units",
    "wells",
    "cost_per_kg",
    "return_per_family_day",
)


@dataclass(frozen=True)
class Entry:
    """Money received (above 0) or paid (below 0) in a year; `crop` is blank where all crops share it."""

    money: float
    kind: str
    crop: str = ""
    harvest_linked: bool = False
    family_hours: float = 0.0
    hired_hours: float = 0.0


class Folder:
    """The files of a case as they are written."""

    def __init__(self, path):
        self.settings = tomllib.loads((Path(path) / "case.toml").read_text(encoding="utf-8"))
        self.book = Book(path, self.settings)
        self.seasons, self.lines = read_rows(path, "seasons"), read_rows(path, "costs")
        self.labour = read_rows(path, "labour_plan")
        self.area, self.years = float(self.settings["area_m2"]), self.settings["horizon_years"]
        baseline = [row for row in self.seasons if row["system"] == self.settings["baseline"]]
        self.main_crop = self.settings.get("main_crop") or baseline[0]["crop"]
        self.rate = self.book.find("discount_rate")


class Grown:
    """What one season of one system grows, sells and draws in a full year."""

    def __init__(self, folder, system, row):
        self.season, self.crop, self.share = row["season"], row["crop"], float(row["share_of_area"])
        where = (system, self.crop, self.season)
        get = lambda name, default=None: folder.book.get(name, default, *where)  # noqa: E731
        self.planted = folder.area * folder.book.get("planted_share", 1, system) * self.share
        fruits, mass = get("fruits_per_m2"), get("fruit_mass_g")
        self.per_m2 = get("yield_kg_per_m2") if fruits is None else fruits * mass / G_PER_KG
        left = get("water_limited_share", 1) * get("salt_limited_share", 1)
        self.marketable = self.per_m2 * get("trial_to_farm_share", 1) * left * self.planted
        self.picked = self.marketable / (1 - get("cull_share", 0))
        self.lost = self.marketable * get("postharvest_loss_share", 0)
        self.eaten = (self.marketable - self.lost) * get("eaten_share", 0)
        self.sold = self.marketable - self.lost - self.eaten
        self.price = farm_gate_price(get, self.sold, price_factor(folder.book, where, row))
        self.applied_l = get("water_applied_l_per_m2", 0)
        self.drawn_l = self.applied_l / get("delivery_share", 1)
        self.water_m3 = self.drawn_l * self.planted / L_PER_M3
        self.plants = get("plants_per_m2", 0) * self.planted
        self.failed = get("failed_season_chance", 0)
        self.learning = {1: get("first_year_share", 1), 2: get("second_year_share", 1)}

    def harvest_in(self, year):
        """Return the share of a full harvest that is expected in a year."""
        return self.learning.get(year, 1) * (1 - self.failed)


class Farm:
    """One system of a case: its seasons, its lines, and what it receives and pays in any year."""

    def __init__(self, folder, system):
        self.folder, self.book, self.system = folder, folder.book, system
        self.grown = [Grown(folder, system, row) for row in folder.seasons if row["system"] == system]
        self.lines = [line for line in folder.lines if line["system"] in ("", system)]
        per_unit = self.book.find("m2_per_unit", system)
        planted = folder.area * self.book.get("planted_share", 1, system)
        self.units = None if per_unit is None else planted / per_unit
        per_well = self.book.find("area_per_well_m2", system)
        self.wells = None if per_well is None else max(math.ceil(planted / per_well), 1)
        self.kwh_per_m3 = self.book.get("pump_energy_kwh_per_m3", 0, system)

    def count(self, line, season=None):
        """Return how much is paid for at one time of payment, in the season where the line is a seasonal one."""
        seasons = self.grown if season is None else [season]
        quantity, basis = float(line["quantity"]), line["basis"]
        step = number(line.get("step_m2", ""))
        if basis in ("scheme", "dry_hole"):
            chance = self.book.get("dry_hole_chance", 0, self.system)
            each = quantity * (chance / (1 - chance) if basis == "dry_hole" else 1)
            return each * (math.ceil(self.folder.area / step) if step else 1)
        if basis == "m2":
            return quantity * self.folder.area * (1 if season is None else season.share)
        if basis == "plant":
            return quantity * max(each.plants for each in seasons)
        if basis == "unit":
            return quantity * self.units
        if basis == "well":
            return quantity * self.wells
        if basis == "m3":
            return quantity * sum(each.water_m3 for each in seasons)
        if basis == "kg_sold":
            return quantity * sum(each.sold for each in seasons)
        return quantity  # hours

    def pay(self, line, season=None, harvest=1.0):
        """Return the entry of a line that is paid once: capital, a year, or a season of it."""
        linked = line["basis"] == "kg_sold"
        count = self.count(line, season) * (harvest if linked else 1)
        crop = season.crop if season else ""
        if line["basis"] == "hour":
            return self.work(count, 0, line["group"], crop)
        return Entry(-count * float(line["unit_price"]) * borne(self, line), line["group"], crop, linked)

    def work(self, hours, family_share, kind, crop="", harvest_linked=False):
        """Return the entry of some hours of work at the wages of the book."""
        family, hired = hours * family_share, hours * (1 - family_share)
        cost = sum(h * self.book.find(name) for h, name in
                   ((family, "family_wage_per_hour"), (hired, "hired_wage_per_hour")) if h)  # fmt: skip
        return Entry(-cost, kind, crop, harvest_linked, family, hired)

    def year_of(self, harvest):
        """Return the entries of a year of production; `harvest` is each season's share of a full harvest."""
        entries = []
        for season, share in zip(self.grown, harvest, strict=True):
            entries.append(Entry(share * season.price * season.sold, "sales", season.crop))
            entries.append(Entry(share * season.price * season.eaten, "eaten", season.crop))
            entries += [*self.work_of(season, share), self.lifting(season)]
            for line in self.lines:
                if line["group"] == "seasonal" and line["season"] in ("", season.season):
                    entries.append(self.pay(line, season, share))
        for line in self.lines:
            if line["group"] == "yearly" and line["basis"] == "kg_sold":
                entries += [self.pay(line, *each) for each in zip(self.grown, harvest, strict=True)]
            elif line["group"] == "yearly":
                entries.append(self.pay(line))
        return entries

    def work_of(self, season, share):
        """Return the entries of a season's work: the labour plan, and carrying water."""
        entries = []
        for row in self.folder.labour:
            if row["system"] in ("", self.system) and row["season"] in ("", season.season):
                per_m2 = number(row["hours_per_m2"])
                hours = float(row["hours"]) if per_m2 is None else per_m2 * season.planted
                linked = row["harvest"] == "yes"
                hours *= share if linked else 1
                entries.append(self.work(hours, float(row["family_share"]), "labour", season.crop, linked))
        hours = self.book.get("carrying_h_per_m3", 0, self.system) * season.water_m3
        family = self.book.get("carrying_family_share", 1, self.system)
        return [*entries, self.work(hours, family, "labour", season.crop)]

    def lifting(self, season):
        """Return the entry of the energy that lifts a season's water."""
        price = self.book.get("energy_price_per_kwh", 0, self.system)
        return Entry(-season.water_m3 * self.kwh_per_m3 * price, "energy", season.crop)

    def ledger(self):
        """Return {year: entries} from year 0 to year T; every year every line is asked whether it is bought then."""
        last = self.folder.years
        working = Entry(-self.working_capital(), "working capital")
        ledger = {0: [working]}
        for year in range(1, last + 1):
            ledger[year] = self.year_of([season.harvest_in(year) for season in self.grown])
        for line in self.lines:
            if line["group"] != "capital":
                continue
            life, bought = int(line["life_years"]), 0
            for year in range(last):
                if year % life == 0:
                    ledger[year].append(self.pay(line))
                    bought = year
            years_left = life - (last - bought)
            back = -self.pay(line).money * years_left / life * (number(line["residual_share"]) or 0)
            ledger[last].append(Entry(back, "residual"))
        ledger[last].append(Entry(-working.money, "released"))
        return ledger

    def full_year(self):
        """Return the entries of a year in which nothing fails and everything is learnt."""
        return self.year_of([1.0] * len(self.grown))

    def working_capital(self):
        """Return the share of a year's costs that wait for the first sale; harvest-linked ones are paid out of it."""
        costs = -sum(e.money for e in self.full_year() if e.kind not in RECEIVED and not e.harvest_linked)
        return self.book.get("working_capital_share", 0, self.system) * costs


def account_of(farm):
    """Return what a system's ledger adds up to: streams by year, and every figure that can be subtracted."""
    ledger, full = farm.ledger(), farm.full_year()
    account = {
        "flows": yearly(ledger),
        "benefits": yearly(ledger, lambda entry: entry.kind in RECEIVED),
        "costs": [-c for c in yearly(ledger, lambda entry: entry.kind not in RECEIVED)],
    }
    running = -sum(e.money for e in full if e.kind not in RECEIVED)
    sales, eaten = (sum(e.money for e in full if e.kind == kind) for kind in ("sales", "eaten"))
    family, hired = sum(e.family_hours for e in full), sum(e.hired_hours for e in full)
    account["figures"] = {
        **crop_figures(farm),
        "water_m3": sum(season.water_m3 for season in farm.grown),
        "sales": sales,
        "eaten_value": eaten,
        "family_hours": family,
        "hired_hours": hired,
        "labour_cost": -farm.work(1, 1, "").money * family - farm.work(1, 0, "").money * hired,
        "energy_kwh": sum(season.water_m3 for season in farm.grown) * farm.kwh_per_m3,
        "energy_cost": -sum(e.money for e in full if e.kind == "energy"),
        "running_cost": running,
        "investment": -sum(e.money for e in ledger[0] if e.kind == "capital"),
        "working_capital": farm.working_capital(),
        "reservoir_units": farm.units,
        "wells": farm.wells,
        "cost_per_kg": cost_per_kg(farm, ledger),
    }
    figures, rate = account["figures"], farm.folder.rate
    laid_out = figures["investment"] + figures["working_capital"]
    figures |= margins(sales + eaten - running, farm, figures, laid_out)
    even = even_yearly_sum(present_value(account["flows"], rate), rate, farm.folder.years)
    figures["return_per_family_day"] = per_family_day(farm, even, family)
    return account


def yearly(ledger, wanted=bool):
    """Return the sums of the wanted entries, one a year; of all of them unless told."""
    return [sum(entry.money for entry in ledger[year] if wanted(entry)) for year in sorted(ledger)]


def crop_figures(farm):
    """Return the figures of the main crop: kilograms added up, the rest weighted by share of area; or None."""
    seasons = [season for season in farm.grown if season.crop == farm.folder.main_crop]
    if not seasons:
        return dict.fromkeys(CROP_FIGURES)
    weight = sum(season.share for season in seasons)
    per_m2 = lambda name: sum(getattr(season, name) * season.share for season in seasons) / weight  # noqa: E731
    total = lambda name: sum(getattr(season, name) for season in seasons)  # noqa: E731
    yields, applied, drawn = per_m2("per_m2"), per_m2("applied_l"), per_m2("drawn_l")
    ratios = (L_PER_M3 * yields / applied if applied else None, drawn / yields if yields else None)
    kilograms = ("picked", "marketable", "lost", "eaten", "sold")
    figures = (yields, applied, drawn, *ratios, per_m2("price"), *(total(name) for name in kilograms))
    return dict(zip(CROP_FIGURES, figures, strict=True))


def cost_per_kg(farm, ledger):
    """Return the levelised cost of a marketable kilogram of the main crop; shared costs by share of its benefits."""
    crop, rate = farm.folder.main_crop, farm.folder.rate
    worth = lambda wanted: present_value(yearly(ledger, wanted), rate)  # noqa: E731
    direct = -worth(lambda e: e.crop == crop and e.kind not in RECEIVED)
    shared = -worth(lambda e: e.crop == "")  # less residuals and released working capital, which are received
    of_crop = worth(lambda e: e.crop == crop and e.kind in RECEIVED)
    of_all = worth(lambda e: e.crop != "" and e.kind in RECEIVED)
    harvest = lambda year: sum(s.harvest_in(year) * s.marketable for s in farm.grown if s.crop == crop)  # noqa: E731
    kilograms = present_value([0, *(harvest(year) for year in range(1, farm.folder.years + 1))], rate)
    if not of_all or not kilograms:
        return None
    return (direct + of_crop / of_all * shared) / kilograms


def measures(folder, account, *, difference):
    """Return the measures of an account, or of the difference of two."""
    stream, rate = account["flows"], folder.rate
    benefits, costs = (present_value(account[name], rate) for name in ("benefits", "costs"))
    finance, reinvestment = (folder.book.get(name, rate) for name in ("finance_rate", "reinvestment_rate"))
    return {
        "present_value_benefits": benefits,
        "present_value_costs": costs,
        "npv": present_value(stream, rate),
        "irr": internal_rate(stream),
        "mirr": modified_rate(stream, finance, reinvestment),
        "benefit_cost_ratio": benefit_cost_ratio(benefits, costs, stream[0], difference=difference),
        "simple_payback_years": payback_years(stream, 0.0),
        "discounted_payback_years": payback_years(stream, rate),
        "equivalent_annual_value": even_yearly_sum(present_value(stream, rate), rate, folder.years),
    }


def against(folder, account, reference):
    """Return a system's figures less those of a reference, and the measures of the difference."""
    streams = ("flows", "benefits", "costs")
    difference = {n: [a - b for a, b in zip(account[n], reference[n], strict=True)] for n in streams}
    own, other = account["figures"], reference["figures"]
    minus = lambda name: None if own[name] is None or other[name] is None else own[name] - other[name]  # noqa: E731
    less = {name: minus(name) for name in own if name not in NOT_SUBTRACTED}
    drawn, drawn_there = own["water_l_per_m2"], other["water_l_per_m2"]
    less["less_water_share"] = None if drawn is None or not drawn_there else 1 - drawn / drawn_there
    return {**less, **measures(folder, difference, difference=True)}


def appraise(path):
    """Return a case folder's outcomes as {"systems": {id: {name: value}}} and so on against baseline and today."""
    folder = Folder(path)
    accounts = {s["id"]: account_of(Farm(folder, s["id"])) for s in folder.settings["systems"]}
    answer = {"systems": {s: {**a["figures"], **measures(folder, a, difference=False)} for s, a in accounts.items()}}
    for reference in ("baseline", "today"):
        base = folder.settings[reference]
        others = {s: account for s, account in accounts.items() if s != base}
        answer[f"against_{reference}"] = {s: against(folder, a, accounts[base]) for s, a in others.items()}
    return answer


if __name__ == "__main__":
    print(json.dumps(appraise(sys.argv[1]), indent=2))
