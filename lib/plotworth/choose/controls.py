"""Which inputs a panel offers first: area, price, fruit mass, well, rate, wage, carrying; found in the case."""

from collections.abc import Iterator
from dataclasses import dataclass

from plotworth.case.book import TRIAL
from plotworth.choose.input import Input
from plotworth.choose.layout import Layout
from plotworth.choose.structure import AREA, SystemPlan

AREA_SPAN = (8.0, 4.0)
SPAN_WITHOUT_RANGE = (2.0, 2.0)
TRIAL_SPAN = 0.5
STEPS = 50
WHOLE_STEP = 1.0


@dataclass(frozen=True)
class Control:
    """A control of a panel: its input, a label that says whose it is, and where a slider starts and ends."""

    input: Input
    label: str
    start: float
    end: float

    @property
    def step(self) -> float:
        """A step of the slider: a round number, about a fiftieth of its way; whole days for days."""
        rough = max((self.end - self.start) / STEPS or 1.0, WHOLE_STEP if self.input.unit == "day" else 0.0)
        size = 10.0 ** int(f"{rough:e}".split("e")[1])
        return next(round(n * size, 12) for n in (1, 2, 5, 10) if n * size >= rough * (1 - 1e-9))


def first_controls(layout: Layout) -> list[Control]:
    """Return the controls that a panel shows first, in the order of the question."""
    seen: dict[str, Control] = {}
    for address, label in _first_addresses(layout):
        one = layout.inputs[address]
        if one.value == one.value and address not in seen:
            seen[address] = control_of(one, label or one.label)
    return list(seen.values())


def control_of(one: Input, label: str) -> Control:
    """Return the control of an input under a label, its slider over the range that is believed."""
    return Control(one, label, *_span(one))


def _first_addresses(layout: Layout) -> Iterator[tuple[str, str]]:
    structure = layout.structure
    yield AREA, ""
    seasons = {
        plan.id: next((s for s in plan.seasons if s.crop == structure.main_crop), None) for plan in structure.systems
    }
    for plan in structure.systems:
        if (season := seasons[plan.id]) is not None:
            yield season.addresses["market_price_per_kg"], f"Market price of {structure.main_crop}"
            if "fruit_mass_g" in season.addresses:
                yield season.addresses["fruit_mass_g"], f"Fruit mass: {plan.label}"
    largest = _largest_capital(layout, structure.system(structure.baseline))
    yield from ((address, _cost_label(layout, address)) for address in largest)
    yield structure.systems[0].addresses["discount_rate"], ""
    yield structure.systems[0].addresses["family_wage_per_hour"], ""
    computed = {item.address: item for item in structure.computed}
    for plan in structure.systems:
        address = plan.addresses["carrying_h_per_m3"]
        if address in computed:
            yield computed[address].inputs["carry_distance_m"], ""
        elif layout.inputs[address].value > 0:
            yield address, ""


def _largest_capital(layout: Layout, plan: SystemPlan) -> tuple[str, ...]:
    """Return the addresses of quantity and price of the dearest capital line of a whole scheme: the well."""
    lines = [item for item in plan.costs if item.group == "capital" and item.basis == "scheme"]
    if not lines:
        return ()
    worth = {item: layout.inputs[item.quantity_address].value * _price(layout, item.price_address) for item in lines}
    dearest = max(worth, key=lambda item: worth[item])
    return dearest.quantity_address, dearest.price_address


def _price(layout: Layout, address: str) -> float:
    return layout.inputs[address].value


def _cost_label(layout: Layout, address: str) -> str:
    return layout.inputs[address].label.capitalize()


def _span(one: Input) -> tuple[float, float]:
    """Return where a slider of this input starts and ends: its range, or around its value, within its bounds."""
    if one.origin == TRIAL:
        return one.value * (1 - TRIAL_SPAN), one.value * (1 + TRIAL_SPAN)
    if one.low is not None and one.high is not None and one.low < one.high:
        return one.low, one.high
    shrink, grow = AREA_SPAN if one.address == AREA else SPAN_WITHOUT_RANGE
    start, end = (one.value / shrink, one.value * grow) if one.value > 0 else (0.0, 1.0)
    return max(start, one.lowest), min(end, one.highest)
