"""One season of one system in a full year: kilograms, litres, plants, and what the harvest is worth."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from plotworth.choose.structure import AREA, SeasonPlan
from plotworth.field.chain import KilogramChain, kilogram_chain
from plotworth.ground.arrays import Array, cell
from plotworth.ground.conversions import GRAMS_PER_KG, KG_PER_T, LITRES_PER_M3

EATEN_COUNTED = "view/eaten_share"
"""Address of how far food eaten at home counts: the cash view puts 0 among the values."""
WHOLE = cell(1.0)


@dataclass(frozen=True)
class SeasonYear:
    """A season at full harvest. Arrays (site, draw).

    `planted_m2` [m2]; `plants` [1]; `yield_kg_per_m2`, `water_applied_l_per_m2` and `water_l_per_m2` (drawn at
    the source) on planted ground; `water_m3` drawn [m3]; `chain` [kg]; `farm_gate_price_per_kg` [money/kg];
    `carrying_h` [hour]; `eaten_share`, how far the view counts what is eaten: 1 in the full view [share].
    """

    crop: str
    planted_m2: Array
    plants: Array
    yield_kg_per_m2: Array
    water_applied_l_per_m2: Array
    water_l_per_m2: Array
    water_m3: Array
    chain: KilogramChain
    farm_gate_price_per_kg: Array
    carrying_h: Array
    eaten_share: Array

    @property
    def benefit(self) -> Array:
        """Kilograms sold, and those eaten as far as the view counts them, at the farm-gate price [money]."""
        return self.sales + self.eaten_value * self.eaten_share

    @property
    def sales(self) -> Array:
        """Kilograms sold at the farm-gate price [money]."""
        return self.farm_gate_price_per_kg * self.chain.sold

    @property
    def eaten_value(self) -> Array:
        """Kilograms eaten at home, at the farm-gate price [money]."""
        return self.farm_gate_price_per_kg * self.chain.eaten


def grow(plan: SeasonPlan, values: Mapping[str, Array]) -> SeasonYear:
    """Return what a season brings and takes in a full year, before learning and failed seasons.

    yield = fruits per m2 x fruit mass, or the yield as stated; marketable = yield x trial to farm x what short water
    and salt leave x planted ground; water drawn = applied / delivery share;
    farm-gate price = market price x price factor x grade x fall with volume x (1 - commission) - transport - packing.
    """
    at = {name: values[address] for name, address in plan.addresses.items()}
    planted = values[AREA] * at["planted_share"] * plan.share_of_area
    yield_kg = _yield_kg_per_m2(at)
    drawn = at["water_applied_l_per_m2"] / at["delivery_share"]
    water_m3 = drawn * planted / LITRES_PER_M3
    chain = _chain(yield_kg, planted, at)
    price = _farm_gate_price(at, chain.sold)
    return SeasonYear(
        crop=plan.crop,
        planted_m2=planted,
        plants=at["plants_per_m2"] * planted,
        yield_kg_per_m2=yield_kg,
        water_applied_l_per_m2=at["water_applied_l_per_m2"],
        water_l_per_m2=drawn,
        water_m3=water_m3,
        chain=chain,
        farm_gate_price_per_kg=price if plan.value_factor not in values else price * values[plan.value_factor],
        eaten_share=values.get(EATEN_COUNTED, WHOLE),
        carrying_h=at["carrying_h_per_m3"] * water_m3,
    )


def _yield_kg_per_m2(at: Mapping[str, Array]) -> Array:
    if "yield_kg_per_m2" in at:
        return at["yield_kg_per_m2"]
    return at["fruits_per_m2"] * at["fruit_mass_g"] / GRAMS_PER_KG


def _chain(yield_kg: Array, planted: Array, at: Mapping[str, Array]) -> KilogramChain:
    farm_yield = yield_kg * at["trial_to_farm_share"] * at["water_limited_share"] * at["salt_limited_share"]
    return kilogram_chain(farm_yield, planted, at["cull_share"], at["postharvest_loss_share"], at["eaten_share"])


def _farm_gate_price(at: Mapping[str, Array], sold_kg: Array) -> Array:
    """Market price in the picking months, less grade, volume, commission, transport and packing [money/kg]."""
    grade = 1.0 - at["second_grade_share"] * (1.0 - at["second_grade_price_share"])
    fall = np.maximum(1.0 - at["price_fall_share_per_t"] * (sold_kg / KG_PER_T), 0.0)
    price = at["market_price_per_kg"] * (at["price_factor"] * grade * fall)
    return price * (1.0 - at["commission_share"]) - at["transport_cost_per_kg"] - at["packing_cost_per_kg"]
