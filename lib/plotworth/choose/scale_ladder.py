"""The same case at other sizes: from a few reservoir units to a scheme, in one call of the composition.

A household works the case's own area. A smaller size is worked by one household, a larger one by as many as their
areas fill; nothing else is changed, so that fixed things, capacity steps and wells show what size does.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.structure import AREA, SystemPlan
from plotworth.ground.arrays import Array
from plotworth.money.costs import STEP_SLACK, capacity_steps

Values = Mapping[str, Array]
UNITS = (5.0, 10.0, 50.0, 200.0, 2000.0)
"""Reservoir units at which a case is shown."""
AREAS_M2 = (10.0, 25.0, 100.0, 500.0, 5000.0)
"""Gross areas [m2] at which a case without reservoirs is shown."""
MOST_SHARING = 10
MOST_STEPS = 40
CURVE_POINTS = 60
JUST_ABOVE = 1e-6
"""Relative part by which the area just above a capacity step exceeds it: more than the slack of a step."""
SHARING = "households_sharing"
ITEM_PART = 2
"""Place of the item in the address of a cost line."""


@dataclass(frozen=True)
class SizeRow:
    """One system at one size; `area_m2` gross [m2], `units` of the case's reservoirs [1], NaN where it has none.

    `households` [1] work it. `npv` and `investment` [money] of the whole, `gain_on_today`, its NPV less that of present
    practice at the same size; `wells` [1], NaN where unknown; `is_best`, whether no system has a greater NPV there.
    """

    area_m2: float
    units: float
    households: float
    system: str
    npv: float
    gain_on_today: float
    investment: float
    wells: float
    is_best: bool

    @property
    def npv_per_household(self) -> float:
        """NPV for each household that works it [money]."""
        return self.npv / self.households

    @property
    def npv_per_m2(self) -> float:
        """NPV for a gross square metre [money/m2]."""
        return self.npv / self.area_m2


@dataclass(frozen=True)
class SharingRow:
    """One system with so many households sharing what is shared; `npv` and `investment` [money] of one household.

    `is_served`: whether what is shared has the capacity for them all, each with the case's area.
    """

    households: int
    system: str
    npv: float
    investment: float
    is_served: bool


def unit_system(layout: Layout, values: Values) -> SystemPlan | None:
    """Return the first system of the case whose reservoir units can be counted, None where there is none."""
    plans = layout.structure.systems
    return next((plan for plan in plans if np.isfinite(_of(values, plan, "m2_per_unit"))), None)


def _of(values: Values, plan: SystemPlan, name: str) -> float:
    return float(values[plan.addresses[name]].flat[0])


def m2_of_a_unit(layout: Layout, values: Values) -> float:
    """Return the gross area of one reservoir unit [m2]: its bed over the planted share; NaN without reservoirs."""
    plan = unit_system(layout, values)
    return np.nan if plan is None else _of(values, plan, "m2_per_unit") / _of(values, plan, "planted_share")


def ladder_areas_m2(layout: Layout, values: Values) -> tuple[float, ...]:
    """Return the gross areas [m2] of `UNITS` reservoir units, or `AREAS_M2` where the case has no reservoirs."""
    unit_m2 = m2_of_a_unit(layout, values)
    return tuple(units * unit_m2 for units in UNITS) if unit_m2 == unit_m2 else AREAS_M2


def size_rows(layout: Layout, values: Values, areas_m2: Sequence[float]) -> list[SizeRow]:
    """Return every system at several gross areas [m2], area by area, in one call of the composition.

    `values` by address, shapes (1, 1). households = area / the case's own area, at least 1. What n households share is
    shared first by those who work the size: households_sharing is n / households, at least 1.
    """
    areas = np.array(areas_m2, dtype=np.float64)[:, None]
    households = np.maximum(areas / values[AREA], 1.0)
    sharing = {at: np.maximum(values[at] / households, 1.0) for at in _sharing_addresses(layout)}
    ladder = {**values, AREA: areas, **sharing}
    outcome = evaluate(layout.structure, ladder, expected_shocks(layout.structure, ladder))
    names = ("npv", "investment", "wells")
    found = {
        plan.id: {name: _along(outcome.systems[plan.id][name], len(areas)) for name in names}
        for plan in layout.structure.systems
    }
    unit_m2 = m2_of_a_unit(layout, values)
    best = np.max([figures["npv"] for figures in found.values()], axis=0)
    today = found[layout.structure.today]["npv"]
    return [
        SizeRow(
            area_m2=float(area),
            units=float(area) / unit_m2,
            households=float(households[k, 0]),
            system=system,
            npv=float(figures["npv"][k]),
            gain_on_today=float(figures["npv"][k] - today[k]),
            investment=float(figures["investment"][k]),
            wells=float(figures["wells"][k]),
            is_best=bool(figures["npv"][k] == best[k]),
        )
        for k, area in enumerate(areas[:, 0])
        for system, figures in found.items()
    ]


def _sharing_addresses(layout: Layout) -> list[str]:
    """Return where the book says how many share: one place for all systems, or one for each."""
    return list(dict.fromkeys(plan.addresses[SHARING] for plan in layout.structure.systems))


def _along(array: Array, sites: int) -> Array:
    return np.broadcast_to(array[:, 0], (sites,))


def steps_m2(layout: Layout, values: Values, *, up_to_m2: float) -> dict[str, list[float]]:
    """Return for each system the gross areas [m2] above which another of something is bought, at most `MOST_STEPS`.

    A line in steps is bought again above each multiple of its step_m2, wells above each multiple of the area they
    serve over the planted share.
    """
    return {plan.id: sorted(set(_steps_of(plan, values, up_to_m2)))[:MOST_STEPS] for plan in layout.structure.systems}


def _steps_of(plan: SystemPlan, values: Values, up_to_m2: float) -> Iterator[float]:
    for step in stepped_items(plan, values):
        yield from (k * step for k in range(1, min(int(up_to_m2 / step), MOST_STEPS) + 1))


def stepped_items(plan: SystemPlan, values: Values) -> dict[float, list[str]]:
    """Return the items of a system that come in steps, by the gross area [m2] that one of them serves."""
    found: dict[float, list[str]] = {}
    for item in plan.costs:
        if (step := _serves_m2(item.step_m2, item.basis, plan, values)) > 0:
            found.setdefault(step, []).append(item.quantity_address.split("/")[ITEM_PART])
    return dict(sorted(found.items()))


def _serves_m2(step_m2: float | None, basis: str, plan: SystemPlan, values: Values) -> float:
    """Return the gross area that one of a line serves [m2]; 0 where it does not come in steps."""
    if basis in ("well", "dry_hole") and step_m2 is None:
        served = _of(values, plan, "area_per_well_m2") / _of(values, plan, "planted_share")
        return served if basis == "well" and np.isfinite(served) else 0.0
    return step_m2 or 0.0


def curve_areas_m2(layout: Layout, values: Values, *, low_m2: float, high_m2: float) -> list[float]:
    """Return areas [m2] for a curve: even steps of the logarithm, both sides of every capacity step, the case's own."""
    steps = {step for ones in steps_m2(layout, values, up_to_m2=high_m2).values() for step in ones}
    inner = [side for step in steps if low_m2 < step < high_m2 for side in (step, step * (1.0 + JUST_ABOVE))]
    own = [area for area in (float(values[AREA].flat[0]),) if low_m2 < area < high_m2]
    return sorted({*np.geomspace(low_m2, high_m2, CURVE_POINTS).tolist(), *inner, *own})


def households_served(layout: Layout, values: Values) -> dict[str, float]:
    """Return how many households, each with the case's area, what a system shares has the capacity for [1].

    Capacity of a shared line = what one serves x how many the case's own area needs; infinite where no shared line of
    the system comes in steps. The case's own area needs at least one, which others may use too.
    """
    area = float(values[AREA].flat[0])
    return {plan.id: min(_served(plan, values, area), default=np.inf) for plan in layout.structure.systems}


def _served(plan: SystemPlan, values: Values, area_m2: float) -> Iterator[float]:
    for item in plan.costs:
        step = _serves_m2(item.step_m2, item.basis, plan, values)
        if item.is_shared and step > 0:
            bought = float(capacity_steps(np.array([[area_m2]]), step)[0, 0])
            yield float(np.floor(bought * step / area_m2 + STEP_SLACK))


def has_shared_lines(layout: Layout) -> bool:
    """Return whether any cost line of the case is marked as shared with other households."""
    return any(item.is_shared for plan in layout.structure.systems for item in plan.costs)


def sharing_rows(layout: Layout, values: Values, *, most: int = MOST_SHARING) -> list[SharingRow]:
    """Return every system with 1 to `most` households sharing what is shared, in one call of the composition.

    `values` by address, shapes (1, 1); each household has the case's area and bears 1/n of what is shared.
    """
    counts = np.arange(1, most + 1, dtype=np.float64)[:, None]
    ladder = {**values, **dict.fromkeys(_sharing_addresses(layout), counts)}
    outcome = evaluate(layout.structure, ladder, expected_shocks(layout.structure, ladder))
    served = households_served(layout, values)
    return [
        SharingRow(
            households=k + 1,
            system=plan.id,
            npv=float(_along(outcome.systems[plan.id]["npv"], most)[k]),
            investment=float(_along(outcome.systems[plan.id]["investment"], most)[k]),
            is_served=k + 1 <= served[plan.id],
        )
        for k in range(most)
        for plan in layout.structure.systems
    ]


def size_curve(layout: Layout, values: Values, *, low_m2: float, high_m2: float) -> list[dict[str, Any]]:
    """Return rows for a chart of worth by size [m2], both sides of every capacity step among them.

    Rows: system, label, area_m2, households, npv, npv_per_household, is_best, is_step (just above a step of the
    system's own).
    """
    steps = steps_m2(layout, values, up_to_m2=high_m2)
    above = {name: {step * (1.0 + JUST_ABOVE) for step in own} for name, own in steps.items()}
    labels = {plan.id: plan.label for plan in layout.structure.systems}
    areas = curve_areas_m2(layout, values, low_m2=low_m2, high_m2=high_m2)
    return [
        {
            "system": row.system,
            "label": labels[row.system],
            "area_m2": row.area_m2,
            "households": row.households,
            "npv": row.npv,
            "npv_per_household": row.npv_per_household,
            "is_best": row.is_best,
            "is_step": row.area_m2 in above[row.system],
        }
        for row in size_rows(layout, values, areas)
    ]
