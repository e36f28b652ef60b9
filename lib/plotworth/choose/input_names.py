"""What an input is called where many stand side by side: its label, and whose it is."""

from plotworth.choose.layout import Layout

COST, LABOUR, QUANTITY = "cost", "labour", "quantity"
EVERYWHERE = "all"
OF_EVERY_SYSTEM = "every system"


def input_name(layout: Layout, address: str) -> str:
    """Return the name of an input: `Market price, sweet pepper`; `Borehole metres: price, Well and drip`.

    The label, then system, crop and season as far as the address states them; of a row of the labour plan its month.
    """
    one = layout.inputs[address]
    parts = address.split("/")
    labels = {plan.id: plan.label for plan in layout.structure.systems}
    scope = parts[1:]
    if parts[0] == COST:
        scope = [parts[1] if parts[1] != EVERYWHERE else OF_EVERY_SYSTEM]
    elif parts[0] == LABOUR:
        whose = parts[1] if parts[1] != EVERYWHERE else OF_EVERY_SYSTEM
        scope = [whose, parts[2], *_month(parts), parts[-1].split("_per_")[0]]
    label = f"{one.label[:1].upper()}{one.label[1:]}"
    if parts[0] == COST and parts[-1] == QUANTITY:
        label = f"{label}: {QUANTITY}"
    return ", ".join([label, *(labels.get(part, part.replace("_", " ")) for part in scope if part != EVERYWHERE)])


def _month(parts: list[str]) -> list[str]:
    month = parts[-2]
    return [f"month {month}"] if month != EVERYWHERE else []
