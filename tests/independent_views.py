"""The views and sizes of a case in the second appraisal: the same ledger at other prices, areas and sharing.

Plain Python, written from the method statement and from what the library says its figures mean. A view is the book
with other wages and another rate, other prices on the lines, and a harvest and a water counted otherwise.
"""

import copy
import math

from independent import Entry, Farm, account_of
from independent_money import benefit_cost_ratio, even_yearly_sum, present_value
from independent_trial import number, read_rows

CASH, FULL, ECONOMIC = "cash", "full", "economic"
VIEWS = (CASH, FULL, ECONOMIC)
MINUTES_PER_HOUR = 60
LEAST_PART = 1e-9  # of a step: three thirds of a hectare are one hectare


class ChangedBook:
    """A book in which some assumptions are another function of what it says."""

    def __init__(self, book, changes):
        self.book, self.changes = book, changes
        self.path = book.path

    def word(self, *asked):
        """Return the word of the book itself."""
        return self.book.word(*asked)

    def find(self, name, system="", crop="", season=""):
        """Return the changed number; what is changed sees the book as it was."""
        if name in self.changes:
            return self.changes[name](lambda other, default=None: self.book.get(other, default, system, crop, season))
        return self.book.find(name, system, crop, season)

    def get(self, name, default, system="", crop="", season=""):
        """Return the changed number, `default` where the book says nothing."""
        found = self.find(name, system, crop, season)
        return default if found is None else found


def viewed(folder, changes, view=FULL):
    """Return a case folder with another book, and in the economy's prices where told."""
    other = copy.copy(folder)
    other.view, other.book = view, ChangedBook(folder.book, changes)
    other.rate = other.book.find("discount_rate")
    if view == ECONOMIC:
        other.lines = [worth_to_the_economy(line) for line in folder.lines]
    return other


def worth_to_the_economy(line):
    """Return a cost line at its price to the economy; hours have no price of their own."""
    factor = number(line.get("economic_factor") or "")
    return (
        line if factor is None or not line["unit_price"] else line | {"unit_price": factor * float(line["unit_price"])}
    )


class ViewedFarm(Farm):
    """A system of a case in one view."""

    def __init__(self, folder, system):
        super().__init__(folder, system)
        if folder.view == ECONOMIC:
            for season in self.grown:
                season.price *= folder.book.get("economic_price_factor", 1, system, season.crop, season.season)

    def year_of(self, harvest):
        """Return the entries of a year, without what is eaten where only money in hand counts."""
        return [entry for entry in super().year_of(harvest) if (self.folder.view, entry.kind) != (CASH, "eaten")]

    def work_of(self, season, share):
        """Return a season's work and, to the economy, what its water would be worth elsewhere."""
        entries = super().work_of(season, share)
        if self.folder.view == ECONOMIC:
            value = self.book.get("water_scarcity_value_per_m3", 0)
            entries.append(Entry(-value * season.water_m3, "water", season.crop))
        return entries


def changes_of(view):
    """Return what a view changes in the book."""
    if view == CASH:
        return {"family_wage_per_hour": lambda _: 0.0}
    if view == FULL:
        return {}
    return {
        "family_wage_per_hour": lambda get: times(get("family_wage_per_hour"), get("economic_family_wage_factor", 1)),
        "hired_wage_per_hour": lambda get: times(get("hired_wage_per_hour"), get("economic_hired_wage_factor", 1)),
        "discount_rate": lambda get: get("economic_discount_rate", get("discount_rate")),
    }


def times(value, factor):
    """Return a product, None where there is nothing to multiply."""
    return None if value is None else value * factor


def three_views(folder):
    """Return {view: {part: {system: figures}}} of the three views."""
    return {view: seen(viewed(folder, changes_of(view), view)) for view in VIEWS}


def three_wages(folder):
    """Return the same with family work at nothing, out of season where that is stated, and at its wage."""
    share = folder.book.find("off_season_wage_share")
    parts = {"zero": 0.0} | ({} if share is None else {"off season": share}) | {"full": 1.0}
    change = lambda part: {"family_wage_per_hour": lambda get: times(get("family_wage_per_hour"), part)}  # noqa: E731
    return {name: seen(viewed(folder, change(part))) for name, part in parts.items()}


def seen(folder):
    """Return {part: {system: {name: number}}} of the figures that views set side by side."""
    accounts = {name: account_of(ViewedFarm(folder, name)) for name in system_names(folder)}
    own = {name: figures_of(folder, account) for name, account in accounts.items()}
    parts = {"systems": own}
    for reference in ("baseline", "today"):
        base = accounts[folder.settings[reference]]
        others = {name: account for name, account in accounts.items() if account is not base}
        parts[f"against_{reference}"] = {name: less(folder, account, base) for name, account in others.items()}
    return parts


def figures_of(folder, account):
    """Return what one system comes to."""
    day = account["figures"]["return_per_family_day"]
    return worth_of_streams(folder, account, difference=False) | {"return_per_family_day": day}


def less(folder, account, base):
    """Return what one system comes to less another; what a day earns is not subtracted."""
    names = ("flows", "benefits", "costs")
    streams = {name: [a - b for a, b in zip(account[name], base[name], strict=True)] for name in names}
    return worth_of_streams(folder, streams, difference=True)


def worth_of_streams(folder, streams, *, difference):
    """Return NPV, the even yearly sum and the ratio of a system or of a difference."""
    npv, benefits, costs = (present_value(streams[name], folder.rate) for name in ("flows", "benefits", "costs"))
    return {
        "npv": npv,
        "equivalent_annual_value": even_yearly_sum(npv, folder.rate, folder.years),
        "benefit_cost_ratio": benefit_cost_ratio(benefits, costs, streams["flows"][0], difference=difference),
    }


def sizes(own, areas):
    """Return {(area, system): figures} of a case at other gross areas; a household works the case's own area."""
    found = {}
    for area in areas:
        households = max(area / own.area, 1)
        sharing = lambda get, n=households: max(get("households_sharing", 1) / n, 1)  # noqa: E731
        folder = viewed(own, {"households_sharing": sharing})
        folder.area = area
        worth = {name: worth_of(folder, name) for name in system_names(own)}
        best = max(figures["npv"] for figures in worth.values())
        for name, figures in worth.items():
            more = {"households": households, "gain_on_today": figures["npv"] - worth[own.settings["today"]]["npv"]}
            found[area, name] = figures | more | {"is_best": figures["npv"] == best}
    return found


def system_names(folder):
    """Return the systems of a case in its order."""
    return [system["id"] for system in folder.settings["systems"]]


def worth_of(folder, system):
    """Return what a system is worth and what it takes at first."""
    farm = ViewedFarm(folder, system)
    account = account_of(farm)
    npv = present_value(account["flows"], folder.rate)
    return {"npv": npv, "investment": account["figures"]["investment"], "wells": farm.wells}


def shared_by(own, most):
    """Return {(households, system): figures}, each household with the case's area and its part of what is shared."""
    found = {}
    for households in range(1, most + 1):
        folder = viewed(own, {"households_sharing": lambda _, n=households: n})
        for name in system_names(own):
            figures = worth_of(folder, name)
            found[households, name] = figures | {"is_served": households <= served(own, name)}
    return found


def served(folder, system):
    """Return for how many households, each with the case's area, a system's shared lines are large enough."""
    farm, most = Farm(folder, system), math.inf
    for line in farm.lines:
        if line.get("shared") != "yes":
            continue
        step = number(line.get("step_m2") or "")
        if line["basis"] == "well":
            per_well = folder.book.find("area_per_well_m2", system)
            step = None if per_well is None else per_well / folder.book.get("planted_share", 1, system)
        if step:
            bought = math.ceil(folder.area / step - LEAST_PART)
            most = min(most, math.floor(bought * step / folder.area + LEAST_PART))
    return most


def planned_hours(folder):
    """Return {system: {who: hours}} of a full year; carrying and hours among the cost lines stand by themselves."""
    return {name: hours_by_who(Farm(folder, name)) for name in system_names(folder)}


def hours_by_who(farm):
    """Return a system's hours by the words of the labour plan."""
    found = {}
    for season in farm.grown:
        for row in farm.folder.labour:
            if row["system"] in ("", farm.system) and row["season"] in ("", season.season):
                per_m2, who = number(row["hours_per_m2"]), row.get("who") or "not said"
                hours = float(row["hours"]) if per_m2 is None else per_m2 * season.planted
                found[who] = found.get(who, 0) + hours
    carried = sum(farm.book.get("carrying_h_per_m3", 0, farm.system) * season.water_m3 for season in farm.grown)
    entries = [entry for entry in farm.full_year() if entry.kind in ("seasonal", "yearly")]
    lines = sum(entry.family_hours + entry.hired_hours for entry in entries)
    return found | {"carrying water (who: not said)": carried, "cost lines in hours (who: not said)": lines}


def recorded_hours(path):
    """Return {who: hours} of the trial's records."""
    found = {}
    for row in read_rows(path, "labour"):
        who = row.get("who") or "not said"
        found[who] = found.get(who, 0) + float(row["person_minutes"]) / MINUTES_PER_HOUR
    return found
