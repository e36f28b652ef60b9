"""Peer of the benchmark, third part: a system's seasons, bill, hours and flows in the bare kernel."""

# ruff: noqa: N806 - the formulas' own letters

import numpy as np


class Systems:
    """What systems share (prices of a crop, hours of all systems, cost lines) is worked out once and looked up."""

    def price(self, a):
        """Price without the fall with volume, and what is taken off it: once for a crop."""
        p = self.p
        names = (
            "market_price_per_kg",
            "price_factor",
            "second_grade_share",
            "second_grade_price_share",
            "commission_share",
        )

        def make():
            x = 1.0 - p[a["second_grade_price_share"]]
            x *= p[a["second_grade_share"]]
            np.subtract(1.0, x, out=x)
            x *= p[a["price_factor"]]
            x *= p[a["market_price_per_kg"]]
            x *= 1.0 - p[a["commission_share"]]
            return x

        off = self.once(
            ("off", a["transport_cost_per_kg"], a["packing_cost_per_kg"]),
            lambda: p[a["transport_cost_per_kg"]] + p[a["packing_cost_per_kg"]],
        )
        return self.once(("price", *(a[name] for name in names)), make), off

    def season(self, system, plan, main):
        p, a = self.p, plan.addresses

        def to(name):
            return self.at(f"seasons/{system}/{plan.season}/{name}")

        planted = self.once(("planted", a["planted_share"]), lambda: p["area_m2"] * p[a["planted_share"]])
        if plan.share_of_area != 1.0:
            planted = planted * plan.share_of_area
        grown, drawn, price = to("yield_kg_per_m2"), to("water_l_per_m2"), to("farm_gate_price_per_kg")
        if "yield_kg_per_m2" in a:
            np.copyto(grown, p[a["yield_kg_per_m2"]])
        else:
            np.multiply(p[a["fruits_per_m2"]], p[a["fruit_mass_g"]], out=grown)
            grown *= 1e-3
        applied = p[a["water_applied_l_per_m2"]]
        np.copyto(to("water_applied_l_per_m2"), applied)
        np.divide(applied, p[a["delivery_share"]], out=drawn)
        shares = ("trial_to_farm_share", "water_limited_share", "salt_limited_share")
        reached = self.once(
            ("reached", planted.ctypes.data, *(a[x] for x in shares)),
            lambda: p[a[shares[0]]] * p[a[shares[1]]] * p[a[shares[2]]] * planted,
        )
        marketable, lost, eaten, sold, picked = (
            to(f"{x}_kg") for x in ("marketable", "lost", "eaten", "sold", "grown")
        )
        np.multiply(grown, reached, out=marketable)
        np.subtract(1.0, p[a["cull_share"]], out=picked)
        np.divide(marketable, picked, out=picked)
        np.multiply(marketable, p[a["postharvest_loss_share"]], out=lost)
        np.subtract(marketable, lost, out=sold)
        np.multiply(sold, p[a["eaten_share"]], out=eaten)
        sold -= eaten
        np.multiply(sold, p[a["price_fall_share_per_t"]], out=price)
        price *= -1e-3
        price += 1.0
        np.maximum(price, 0.0, out=price)
        whole, off = self.price(a)
        price *= whole
        price -= off
        per_m3, per_kg = to("irrigation_productivity_kg_per_m3"), to("water_l_per_kg")
        np.divide(grown, applied, out=per_m3)
        per_m3 *= 1000.0
        per_m3[np.isinf(per_m3)] = np.nan
        np.divide(drawn, grown, out=per_kg)
        per_kg[np.isinf(per_kg)] = np.nan
        water = drawn * planted
        water *= 1e-3
        plants = self.once(("plants", a["plants_per_m2"], planted.ctypes.data), lambda: p[a["plants_per_m2"]] * planted)
        return {
            "planted": planted,
            "plants": plants,
            "water": water,
            "sold": sold,
            "marketable": marketable,
            "price": price,
            "share": plan.share_of_area,
            "eaten": eaten,
            "is_main": plan.crop == main,
        }

    def step(self, area, step):
        x = area / step
        x -= 1e-9
        np.ceil(x, out=x)
        return np.maximum(x, 1.0, out=x)

    def bill(self, plan, seasons, units, wells, dry, own, more):
        """Return capital by life, yearly, and steady and harvest costs by season; lines shared by systems once."""
        p, area, n = self.p, self.p["area_m2"], self.n
        capital, yearly, hours = {}, np.zeros(n), np.zeros(n)
        steady, harvest = ([np.zeros(n) for _ in seasons] for _ in "ab")
        for line in plan.costs:
            x = self.product(line.quantity_address, line.price_address)
            basis, t = line.basis, self.t
            if line.is_shared:
                x = x * own
            if line.group == "capital" and line.life_years is not None:
                if line.step_m2 is not None:
                    x = x * self.once(("step", line.step_m2), lambda at=line.step_m2: self.step(area, at))
                if basis == "dry_hole":
                    x = x * dry
                elif basis != "scheme":
                    kind = {"unit": units, "well": wells, "m2": area, "plant": None}[basis]
                    x = x * (np.maximum(seasons[0]["plants"], seasons[-1]["plants"]) if kind is None else kind)
                x = x * more
                life = line.life_years
                capital[life] = capital[life] + x if life in capital else x
                left = max(range(0, self.T, life)[-1] + life - self.T, 0) / life * line.residual_share
                if left:
                    self.residual = x * left if self.residual is None else self.residual + x * left
            elif basis == "kg_sold" or line.group == "seasonal":
                for k in line.seasons:
                    key = {"kg_sold": "sold", "m3": "water", "plant": "plants"}.get(basis)
                    np.multiply(x, area if key is None else seasons[k][key], out=t)
                    (harvest if basis == "kg_sold" else steady)[k] += t
            else:
                if basis in ("m2", "unit"):
                    x = np.multiply(x, area if basis == "m2" else units, out=t)
                elif line.step_m2 is not None:
                    x = np.multiply(
                        x, self.once(("step", line.step_m2), lambda at=line.step_m2: self.step(area, at)), out=t
                    )
                yearly += x
            if basis == "hour" and line.group != "capital":
                hours += p[line.quantity_address]
        return capital, yearly, steady, harvest, hours

    def hours(self, plan, seasons):
        """Family and all hours by season, steady and with the harvest; groups of rows that systems share once."""
        found = []
        for moves in (False, True):
            for k, one in enumerate(seasons):
                rows = [r for r in plan.labour if r.moves_with_harvest == moves and k in r.seasons]
                groups = {}
                for r in rows:
                    groups.setdefault((r.hours_address.split("/")[1], r.is_per_m2), []).append(r)
                family, total = np.zeros(self.n), np.zeros(self.n)
                for key, some in groups.items():
                    own, both = self.once(("hours", moves, k, *key), lambda some=some: self.added(some))
                    if key[1]:
                        family += np.multiply(own, one["planted"], out=self.t)
                        total += np.multiply(both, one["planted"], out=self.t)
                    else:
                        family += own
                        total += both
                found.append((family, total))
        count = len(seasons)
        return found[:count], found[count:]

    def added(self, rows):
        p, own, both = self.p, np.zeros(self.n), np.zeros(self.n)
        for r in rows:
            h = p[r.hours_address]
            both += h
            own += np.multiply(h, p[r.family_share_address], out=self.t)
        return own, both

    def system(self, plan):
        p, a, n, name, T = self.p, plan.addresses, self.n, plan.id, self.T

        def to(figure):
            return self.at(f"systems/{name}/{figure}")

        seasons = [self.season(name, one, self.s.main_crop) for one in plan.seasons]
        planted = self.once(("planted", a["planted_share"]), None)
        units, wells = to("reservoir_units"), to("wells")
        np.divide(planted, p[a["m2_per_unit"]], out=units)
        np.copyto(wells, self.step(planted, p[a["area_per_well_m2"]]))
        dry = self.once(("dry", a["dry_hole_chance"]), lambda: p[a["dry_hole_chance"]] / (1 - p[a["dry_hole_chance"]]))
        own = self.once(
            ("own", a["other_use_share"]), lambda: (1 - p[a["other_use_share"]]) / p[a["households_sharing"]]
        )
        more = self.once(
            ("more", a["physical_contingency_share"]),
            lambda: (1 + p[a["physical_contingency_share"]]) * (1 + p[a["price_contingency_share"]]),
        )
        self.residual = None
        capital, yearly, steady, harvest, hired_lines = self.bill(plan, seasons, units, wells, dry, own, more)
        steady_h, harvest_h = self.hours(plan, seasons)
        fw, hw = p[a["family_wage_per_hour"]], p[a["hired_wage_per_hour"]]
        lower = self.once(("lower", a["family_wage_per_hour"], a["hired_wage_per_hour"]), lambda: fw - hw)
        family, hired, labour = to("family_hours"), to("hired_hours"), to("labour_cost")
        family[:], hired[:] = 0.0, 0.0
        carried, t, u = p[a["carrying_h_per_m3"]], self.t, self.u
        for k, one in enumerate(seasons):
            np.multiply(one["water"], carried, out=t)
            steady_h[k][1].__iadd__(t)
            t *= p[a["carrying_family_share"]]
            steady_h[k][0].__iadd__(t)
            for (own_h, all_h), money in ((steady_h[k], steady[k]), (harvest_h[k], harvest[k])):
                money += np.multiply(own_h, lower, out=t)
                money += np.multiply(all_h, hw, out=t)
                family += own_h
                hired += all_h
        hired -= family
        hired += hired_lines
        np.multiply(family, fw, out=labour)
        labour += np.multiply(hired, hw, out=t)
        water, kwh, energy = to("water_m3"), to("energy_kwh"), to("energy_cost")
        np.add(seasons[0]["water"], seasons[1]["water"], out=water)
        np.multiply(water, p[a["pump_energy_kwh_per_m3"]], out=kwh)
        np.multiply(kwh, p[a["energy_price_per_kwh"]], out=energy)
        per_m3 = self.product(a["pump_energy_kwh_per_m3"], a["energy_price_per_kwh"])
        sales, eaten, running = to("sales"), to("eaten_value"), to("running_cost")
        sales[:], eaten[:] = 0.0, 0.0
        D, flow = self.D, self.flow[name]
        pvb, pvh, main_cost, main_kg, main_benefit = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
        full = yearly.copy()
        margins = []
        for k, (one, season) in enumerate(zip(seasons, plan.seasons, strict=True)):
            b = season.addresses
            steady[k] += np.multiply(per_m3, one["water"], out=t)
            full += steady[k]
            np.multiply(one["price"], one["sold"], out=t)
            sales += t
            np.multiply(one["price"], one["eaten"], out=u)
            eaten += u
            t += u
            first, second, chance = (b[x] for x in ("first_year_share", "second_year_share", "failed_season_chance"))
            luck = self.once(("luck", chance), lambda at=chance: 1.0 - p[at])
            factor = self.once(
                ("factor", first, second, chance),
                lambda f=first, g=second, w=luck: (p[f] * D[1] + p[g] * D[2] + self.tail) * w,
            )
            benefit = t * factor
            pvb += benefit
            paid = harvest[k] * factor
            pvh += paid
            t -= harvest[k]
            margins.append((t * luck, p[first], p[second]))
            if one["is_main"]:
                main_cost += np.multiply(steady[k], self.all_years, out=u)
                main_cost += paid
                main_benefit += benefit
                main_kg += np.multiply(one["marketable"], factor, out=u)
        working = to("working_capital")
        np.multiply(full, p[a["working_capital_share"]], out=working)
        back = working if self.residual is None else working + self.residual
        investment = to("investment")
        investment[:] = 0.0
        for amount in capital.values():
            investment += amount
        flow[0] = 0.0
        same = all(m[1] is margins[0][1] and m[2] is margins[0][2] for m in margins)
        if same:
            margins = [(sum((m[0] for m in margins[1:]), start=margins[0][0]), *margins[0][1:])]
        for year, share in ((1, 1), (2, 2), (3, None)):
            np.negative(full, out=flow[year])
            for margin in margins:
                flow[year] += margin[0] if share is None else np.multiply(margin[0], margin[share], out=t)
        flow[4:] = flow[3]
        pvk = working.copy()
        for life, amount in capital.items():
            years = range(0, T, life)
            for year in years:
                flow[year] -= amount
            factor = self.once(("life", life), lambda years=years: D[list(years)].sum(0))
            pvk += np.multiply(amount, factor, out=t)
        flow[0] -= working
        flow[T] += back
        released = back * D[T]
        pvb += released
        np.multiply(full, self.all_years, out=t)
        pvc = pvk + t
        pvc += pvh
        np.multiply(yearly, self.all_years, out=t)
        pvk += t
        pvk -= released
        np.subtract(pvb, released, out=t)
        main_benefit /= t
        main_benefit *= pvk
        main_cost += main_benefit
        cost = to("cost_per_kg")
        np.divide(main_cost, main_kg, out=cost)
        np.add(full, harvest[0], out=running)
        running += harvest[1]
        margin = sales + eaten
        margin -= running
        np.divide(margin, p["area_m2"], out=to("gross_margin_per_m2"))
        family_and_hired = np.add(family, hired, out=t)
        day = to("gross_margin_per_day")
        np.multiply(margin, p[a["hours_per_day"]], out=day)
        day /= family_and_hired
        np.divide(margin, water, out=to("gross_margin_per_m3"))
        np.divide(margin, units, out=to("gross_margin_per_unit"))
        hundred = to("gross_margin_per_100")
        np.add(investment, working, out=t)
        np.divide(margin, t, out=hundred)
        hundred *= 100.0
        main = next(one for one in plan.seasons if one.crop == self.s.main_crop)
        for figure in self.main_figures:
            np.copyto(to(figure), self.at(f"seasons/{name}/{main.season}/{figure}"))
        return {
            "flow": flow,
            "pvb": pvb,
            "pvc": pvc,
            "drawn": to("water_l_per_m2"),
            "wage": fw,
            "day": p[a["hours_per_day"]],
            "family": family,
        }
