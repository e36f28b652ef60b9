"""The structure of a case: what stays fixed in a call of the composition while its values vary."""

from collections.abc import Mapping
from dataclasses import dataclass

from plotworth.choose.computed import ComputedItem
from plotworth.money.costs import CostItem
from plotworth.money.labour import LabourItem

AREA = "area_m2"


@dataclass(frozen=True)
class SeasonPlan:
    """A season of a system: its name, crop, first month (1-12), months, share of the planted area [share].

    `addresses` leads from an assumption's name to the address of the book row that holds in this season; `water`
    does the same for the rows that daily simulations stand on, those that the book states.
    """

    season: str
    crop: str
    first_month: int
    months: int
    share_of_area: float
    addresses: Mapping[str, str]
    water: Mapping[str, str]

    @property
    def value_factor(self) -> str:
        """Address of what the farm-gate price is multiplied by: the economic view puts it among the values.

        It ends in the address of the book row that states it, so that a row for one system moves that system alone.
        """
        return f"view/value_factor/{self.addresses.get('economic_price_factor', self.crop)}"


@dataclass(frozen=True)
class SimulatedItem:
    """A value that a daily simulation gives: its address, the quantity's name, the system, and the season.

    `season` is "" for what holds in all seasons of the system. Simulations run before the composition, which takes
    their values like typed ones.
    """

    address: str
    name: str
    system: str
    season: str


@dataclass(frozen=True)
class SystemPlan:
    """A growing system: seasons, cost lines, labour plan, and the addresses of what holds all year."""

    id: str
    label: str
    seasons: tuple[SeasonPlan, ...]
    costs: tuple[CostItem, ...]
    labour: tuple[LabourItem, ...]
    addresses: Mapping[str, str]


@dataclass(frozen=True)
class Structure:
    """Systems, the two reference lines, horizon [year], the crop of per-kilogram figures, what is worked out.

    `computed` values come from closed formulas inside the composition, `simulated` ones from daily simulations before.
    """

    systems: tuple[SystemPlan, ...]
    today: str
    baseline: str
    horizon_years: int
    main_crop: str
    computed: tuple[ComputedItem, ...] = ()
    simulated: tuple[SimulatedItem, ...] = ()

    def system(self, system_id: str) -> SystemPlan:
        """Return the system with this id; KeyError where there is none."""
        return {system.id: system for system in self.systems}[system_id]


HarvestKey = tuple[str, str]
"""System and season: the key of a season's harvest weights among the shocks."""
