"""Cash by month in the second appraisal: plain Python, one payment at a time, each put into its month.

Written from the method statement alone. Month 0 is the investment, month 1 the earliest first month of a season. Water
lies evenly over a season: this second opinion is for cases without weather, where nothing says otherwise.
"""

import math

from independent import Farm, Folder
from independent_market import borne, farm_gate_price, price_factor
from independent_trial import number, read_rows

MONTHS = 12


def cash_of(path):
    """Return {system: {"before": flows, "loans": flows, "grant": money, "family": hours, "hired": hours}}.

    Flows are lists from month 0 to month 12 T, constant prices; hours are twelve, from January, of a full year.
    """
    folder = Folder(path)
    return {system["id"]: Months(folder, path, system).laid_out() for system in folder.settings["systems"]}


class Months:
    """One system of a case, month by month."""

    def __init__(self, folder, path, system):
        self.folder, self.system, self.path = folder, system, path
        self.farm = Farm(folder, system["id"])
        self.first = min(int(row["first_month"]) for row in folder.seasons)
        self.rows = [row for row in folder.seasons if row["system"] == system["id"]]
        self.cash = [0.0] * (MONTHS * folder.years + 1)
        self.family, self.hired = [0.0] * MONTHS, [0.0] * MONTHS

    def laid_out(self):
        """Return everything, put into its month."""
        for year in range(1, self.folder.years + 1):
            harvests = [season.harvest_in(year) for season in self.farm.grown]
            self.run(year, harvests)
        self.buy()
        investment = -self.cash[0]
        loans, grant = self.loans(investment), self.grant(investment)
        self.family, self.hired = [0.0] * MONTHS, [0.0] * MONTHS
        kept, self.cash = self.cash, [0.0] * len(self.cash)
        self.run(1, [1.0] * len(self.farm.grown))
        return {"before": kept, "loans": loans, "grant": grant, "family": self.family, "hired": self.hired}

    def put(self, year, month, money):
        """Put money into a calendar month of a year of the plan."""
        self.cash[MONTHS * (year - 1) + 1 + (month - self.first) % MONTHS] += money

    def work(self, year, month, hours, family_share):
        """Put hours into a calendar month; what is hired is paid."""
        self.family[month - 1] += hours * family_share
        self.hired[month - 1] += hours * (1 - family_share)
        wage = self.farm.book.get("hired_wage_per_hour", 0)
        self.put(year, month, -hours * (1 - family_share) * wage)

    def run(self, year, harvests):
        """Put the entries of a year of production into their months."""
        for season, row, harvest in zip(self.farm.grown, self.rows, harvests, strict=True):
            months = [(int(row["first_month"]) - 1 + k) % MONTHS + 1 for k in range(int(row["months"]))]
            picked = self.picked(season, months)
            self.sell(year, season, row, picked, harvest)
            self.tend(year, season, months, harvest)
            for line in self.farm.lines:
                if line["group"] == "seasonal" and line["season"] in ("", season.season):
                    self.pay(year, line, season, months, picked, harvest)
                if line["group"] == "yearly" and line["basis"] == "kg_sold":
                    self.pay(year, line, season, months, picked, harvest)
        for line in self.farm.lines:
            if line["group"] == "yearly" and line["basis"] != "kg_sold":
                self.pay_evenly(year, line)

    def picked(self, season, months):
        """Return {month: share} of a season's kilograms: by prices, by the trial, or late."""
        rows = [row for row in read_rows(self.path, "prices") if row["crop"] == season.crop]
        shares = {int(row["month"]): float(row["harvest_share"] or 0) for row in rows}
        shares = {month: share for month, share in shares.items() if month in months and share}
        if not rows:
            shares = self.picked_in_trial(season.crop)
        if not shares or not set(shares) <= set(months):
            half = len(months) / 2
            shares = {month: min(max(k + 1 - half, 0), 1) for k, month in enumerate(months)}
        return {month: share / sum(shares.values()) for month, share in shares.items()}

    def picked_in_trial(self, crop):
        """Return {month: fruits} of the plots that measured the system; the demo counts every picking."""
        mine = lambda p: p["treatment"] == self.system.get("treatment") and p["crop"] == crop  # noqa: E731
        plots = {plot["plot"] for plot in read_rows(self.path, "plots") if mine(plot)}
        fruits = {}
        for row in read_rows(self.path, "harvests"):
            if row["plot"] in plots:
                month = int(row["date"][5:7])
                fruits[month] = fruits.get(month, 0) + int(row["marketable_fruits"])
        return fruits

    def sell(self, year, season, row, picked, harvest):
        """Put the sales of a season into the months of picking, each at its own price."""
        where = (self.system["id"], season.crop, season.season)
        get = lambda name, default=None: self.farm.book.get(name, default, *where)  # noqa: E731
        rows = {int(r["month"]): r for r in read_rows(self.path, "prices") if r["crop"] == season.crop}
        usual = price_factor(self.farm.book, where, row)
        for month, share in picked.items():
            factor = float(rows[month]["price_index"]) if rows else usual
            self.put(year, month, harvest * season.sold * share * farm_gate_price(get, season.sold, factor))

    def tend(self, year, season, months, harvest):
        """Put the labour plan, carrying and pumping of a season into their months."""
        book, name = self.farm.book, self.system["id"]
        for row in self.folder.labour:
            if row["system"] in ("", name) and row["season"] in ("", season.season):
                per_m2 = number(row["hours_per_m2"])
                hours = float(row["hours"]) if per_m2 is None else per_m2 * season.planted
                hours *= harvest if row["harvest"] == "yes" else 1
                when = [int(row["month"])] if row["month"] else months
                for month in when:
                    self.work(year, month, hours / len(when), float(row["family_share"]))
        for month in months:
            drawn = season.water_m3 / len(months)
            hours = book.get("carrying_h_per_m3", 0, name) * drawn
            self.work(year, month, hours, book.get("carrying_family_share", 1, name))
            energy = self.farm.kwh_per_m3 * book.get("energy_price_per_kwh", 0, name)
            self.put(year, month, -drawn * energy)

    def pay(self, year, line, season, months, picked, harvest):
        """Put a line of a season into its month, with the pickings, with the water, or into the first month."""
        share = harvest if line["basis"] == "kg_sold" else 1
        when = {months[0]: 1.0}
        if line["basis"] == "kg_sold":
            when = picked
        if line["basis"] == "m3":
            when = dict.fromkeys(months, 1 / len(months))
        if line["month"]:
            when = {int(line["month"]): 1.0}
        for month, part in when.items():
            if line["basis"] == "hour":
                self.work(year, month, self.farm.count(line, season) * part, 0)
            else:
                price = float(line["unit_price"]) * borne(self.farm, line)
                self.put(year, month, -self.farm.count(line, season) * share * part * price)

    def pay_evenly(self, year, line):
        """Put a yearly line into its month, or a twelfth into each."""
        when = [int(line["month"])] if line["month"] else range(1, MONTHS + 1)
        for month in when:
            if line["basis"] == "hour":
                self.work(year, month, self.farm.count(line) / len(when), 0)
            else:
                self.put(year, month, self.farm.pay(line).money / len(when))

    def buy(self):
        """Put what lasts into month 0 and into the last month of each life that ends before the horizon."""
        last = self.folder.years
        for line in self.farm.lines:
            if line["group"] == "capital":
                life, bought = int(line["life_years"]), 0
                for year in range(0, last, life):
                    self.cash[MONTHS * year] += self.farm.pay(line).money
                    bought = year
                left = (life - (last - bought)) / life * (number(line["residual_share"]) or 0)
                self.cash[MONTHS * last] -= self.farm.pay(line).money * left

    def loans(self, investment):
        """Return what loans bring and take by month, paid down period by period, each payment deflated."""
        flows, rise = [0.0] * len(self.cash), self.farm.book.get("inflation_rate", 0)
        for loan in self.folder.settings.get("loans", []):
            if loan["system"] != self.system["id"]:
                continue
            owed = first = loan.get("amount", loan.get("amount_share_of_investment", 0) * investment)
            flows[0] += owed
            spacing = MONTHS // loan["payments_per_year"]
            rate, grace = loan["rate_per_year"] / loan["payments_per_year"], loan.get("grace_months", 0) // spacing
            periods = round(loan["years"] * loan["payments_per_year"])
            for period in range(1, periods + 1):
                interest = rate * (first if loan["kind"] == "flat" else owed)
                left = periods - period + 1
                if period <= grace:
                    back = -interest if loan.get("capitalise_grace_interest") else 0.0
                elif loan["kind"] == "annuity" and rate:
                    back = owed * rate / (1 - (1 + rate) ** -left) - interest
                else:
                    back = owed / left
                owed -= back
                flows[period * spacing] -= (interest + back) / (1 + rise) ** (period * spacing / MONTHS)
            assert math.isclose(owed, 0, abs_tol=1e-9 * first)
        return flows

    def grant(self, investment):
        """Return what grants bring with the investment."""
        mine = [one for one in self.folder.settings.get("grants", []) if one["system"] == self.system["id"]]
        return sum(one.get("amount", one.get("share_of_investment", 0) * investment) for one in mine)
