"""Peer of the benchmark: bare numpy, only the arithmetic that cannot be avoided, in preallocated rows.

Draws in chunks that stay in the processor's cache; what several systems have in common (cost lines, hours, prices of
a crop) is worked out once. No labels, no checks, no site axis, no views. Nothing of the library but the structure's
tables. For cases like the demo: learning in the first two years, one harvest weight a season, wells not computed,
the case's rate for finance and reinvestment.
"""

# ruff: noqa: N803, N806 - the formulas' own letters

import numpy as np
from peer_kernel_rates import Rates
from peer_kernel_system import Systems

CHUNK = 8192
OF_WORTH = ("npv", "irr", "mirr", "benefit_cost_ratio", "simple_payback_years", "discounted_payback_years")
OF_WORTH += ("equivalent_annual_value", "present_value_benefits", "present_value_costs", "less_water_share")


class Kernel(Rates, Systems):
    """The demo's structure turned into rows of one table of results."""

    def __init__(self, structure, paths, chunk=CHUNK):
        self.s, self.chunk = structure, chunk
        self.row = {path: n for n, path in enumerate(paths)}
        self.T = structure.horizon_years
        self.years = np.arange(self.T + 1.0)
        self.smoothing()
        plan = structure.systems[0]
        self.main_figures = self.named(f"seasons/{plan.id}/{plan.seasons[0].season}/")
        against = next(path for path in paths if path.startswith("against_baseline/")).rsplit("/", 1)[0]
        self.shown = [name for name in self.named(f"{against}/") if name not in OF_WORTH]
        self.room(chunk)

    def named(self, start):
        return [path.removeprefix(start) for path in self.row if path.startswith(start)]

    def room(self, n):
        self.n, e = n, np.empty
        self.D, self.flow, self.F = (
            e((self.T + 1, n)),
            {p.id: e((self.T + 1, n)) for p in self.s.systems},
            e((self.T + 1, n)),
        )
        self.M, self.S, self.C = e((self.T + 1, n)), e((self.T + 1, 2, n)), e((self.T + 1, n))
        self.v, self.d, self.t, self.u, self.lo, self.hi = e((2, n)), e((2, n)), e(n), e(n), e(n), e(n)

    def run(self, values):
        n = len(next(iter(values.values())))
        out = np.empty((len(self.row), n))
        with np.errstate(all="ignore"):
            for a in range(0, n, self.chunk):
                b = min(n, a + self.chunk)
                if b - a != self.n:
                    self.room(b - a)
                self.part({k: v[a:b] for k, v in values.items()}, out[:, a:b])
        return {path: out[n] for path, n in self.row.items()}

    def part(self, p, out):
        self.p, self.out, self.memo = p, out, {}
        s, T = self.s, self.T
        self.computed()
        self.rate = rate = p[s.systems[0].addresses["discount_rate"]]
        D = self.D
        D[0] = 1.0
        np.add(rate, 1.0, out=self.t)
        np.divide(1.0, self.t, out=D[1])
        for k in range(2, T + 1):
            np.multiply(D[k - 1], D[1], out=D[k])
        self.tail = D[3:].sum(0)
        self.all_years = self.tail + D[1] + D[2]
        self.annuity = rate / (1.0 - D[T])
        self.steps, self.bought = {}, {}
        systems = {plan.id: self.system(plan) for plan in s.systems}
        for name, one in systems.items():
            self.measures(f"systems/{name}", one["flow"], one["pvb"], one["pvc"], False)
            self.alone(f"systems/{name}", one)
        done = {}
        for part, reference in (("against_baseline", s.baseline), ("against_today", s.today)):
            for name, one in systems.items():
                if name == reference:
                    continue
                other, key = systems[reference], f"{part}/{name}"
                for figure in self.shown:
                    np.subtract(
                        self.at(f"systems/{name}/{figure}"),
                        self.at(f"systems/{reference}/{figure}"),
                        out=self.at(f"{key}/{figure}"),
                    )
                less = self.at(f"{key}/less_water_share")
                np.divide(one["drawn"], other["drawn"], out=less)
                np.subtract(1.0, less, out=less)
                np.subtract(one["flow"], other["flow"], out=self.F)
                np.subtract(one["pvb"], other["pvb"], out=self.lo)
                np.subtract(one["pvc"], other["pvc"], out=self.hi)
                pvb, pvc = self.lo.copy(), self.hi.copy()
                self.measures(key, self.F, pvb, pvc, True, done.get((reference, name)))
                done[name, reference] = self.at(f"{key}/irr")

    def at(self, path):
        return self.out[self.row[path]]

    def product(self, a, b):
        key = (a, b)
        if key not in self.memo:
            self.memo[key] = self.p[a] * self.p[b]
        return self.memo[key]

    def computed(self):
        p = self.p = dict(self.p)
        for item in self.s.computed:
            a = {name: p[address] for name, address in item.inputs.items()}
            key = (item.name, *item.inputs.values())
            if key not in self.memo and item.name == "carrying_h_per_m3":
                minutes = a["carry_distance_m"] / a["carry_pace_km_per_h"]
                minutes *= 2 * 60 / 1000
                minutes += a["carry_fill_pour_min"]
                minutes /= a["carry_load_l"]
                minutes *= 1000 / 60
                self.memo[key] = minutes
            elif key not in self.memo and item.name == "pump_energy_kwh_per_m3":
                flow = a["pump_flow_m3_per_h"]
                x = np.log(flow / (3600 * a["main_hazen_williams_c"]))
                x *= 1.852
                x -= 4.8704 * np.log(a["main_diameter_mm"] * 1e-3)
                np.exp(x, out=x)
                x *= a["main_length_m"]
                x *= 10.67
                x += flow / a["specific_capacity_m3_per_h_per_m"]
                for name in ("static_level_m", "rise_m", "filter_and_fittings_m", "operating_pressure_m"):
                    x += a[name]
                x *= 1000 * 9.81 / 3.6e6
                x /= a["pump_efficiency_share"]
                x /= a["motor_efficiency_share"]
                self.memo[key] = x
            p[item.address] = self.memo[key]

    def once(self, key, make):
        if key not in self.memo:
            self.memo[key] = make()
        return self.memo[key]

    def alone(self, key, one):
        earned = self.at(f"{key}/return_per_family_day")
        np.multiply(one["family"], one["wage"], out=earned)
        earned += self.at(f"{key}/equivalent_annual_value")
        earned *= one["day"]
        earned /= one["family"]

    def measures(self, key, C, pvb, pvc, difference, known=None):
        def to(name):
            return self.at(f"{key}/{name}")

        T, t, M = self.T, self.t, self.M
        np.copyto(to("present_value_benefits"), pvb)
        np.copyto(to("present_value_costs"), pvc)
        npv, ratio = to("npv"), to("benefit_cost_ratio")
        np.subtract(pvb, pvc, out=npv)
        np.divide(pvb, pvc, out=ratio)
        ratio[pvc <= 0] = np.nan
        if difference:
            ratio[C[0] > 0] = np.nan
        np.multiply(npv, self.annuity, out=to("equivalent_annual_value"))
        np.multiply(C, self.D, out=M)
        mirr = to("mirr")
        np.maximum(M, 0.0, out=self.S[:, 0])
        gain = np.add.reduce(self.S[:, 0], axis=0, out=self.u)
        np.subtract(gain, np.add.reduce(M, axis=0, out=t), out=t)
        np.divide(gain, t, out=mirr)
        np.log(mirr, out=mirr)
        mirr *= 1.0 / T
        np.exp(mirr, out=mirr)
        np.divide(mirr, self.D[1], out=mirr)
        mirr -= 1.0
        mirr[(t <= 0) | (gain <= 0)] = np.nan
        self.payback(C, to("simple_payback_years"))
        self.payback(M, to("discounted_payback_years"))
        if known is None:
            self.irr(C, to("irr"))
        else:
            np.copyto(to("irr"), known)

    def payback(self, C, out):
        T, S = self.T, self.C
        S[0] = C[0]
        for k in range(1, T + 1):
            np.add(S[k - 1], C[k], out=S[k])
        zero = np.add.reduce(np.abs(C, out=self.S[:, 1]), axis=0, out=self.u)
        zero *= -1e-13
        low, years = self.lo, np.zeros(self.n, np.int16)
        low.fill(np.inf)
        for k in range(T, -1, -1):
            np.minimum(low, S[k], out=low)
            years += low < zero
        last = np.maximum(years, 1).astype(np.int64)
        last -= 1
        places = last * self.n
        places += np.arange(self.n)
        reached = S.ravel().take(places)
        places += self.n
        np.minimum(places, S.size - 1, out=places)
        reached /= C.ravel().take(places) if C.flags.c_contiguous else np.ascontiguousarray(C).ravel().take(places)
        np.negative(reached, out=reached)
        np.minimum(reached, 1.0, out=reached)
        np.add(reached, last, out=out)
        out[(C[0] >= 0) | (S[T] < zero)] = np.nan
