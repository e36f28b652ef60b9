"""What an input is, by the closed list of the column `kind` in inputs.csv: its handbook row, and whether it is raw.

A kind is written down by whoever spread it; a name is never read for it. Manure that was stacked or aged without the
heat of COMPOSTING_RULES is raw. A kind without a handbook row has no known first-season share, and none is guessed
from a relative.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from plotworth.ground.handbook import find_organic_input
from plotworth.supply.nutrients import FirstSeasonShare, mineral_shares, organic_shares

MINERAL = "mineral_fertiliser"
NOT_SAID = ""


@dataclass(frozen=True)
class InputKind:
    """A kind of input.

    Attributes: kind, the word of the column; label for people; handbook, name of its row among the organic inputs,
    "" where it has none; raw, whether it is manure that was not composted.
    """

    kind: str
    label: str
    handbook: str
    raw: bool


INPUT_KINDS: Mapping[str, InputKind] = MappingProxyType(
    {
        row.kind: row
        for row in (
            InputKind(MINERAL, "mineral fertiliser", "", raw=False),
            InputKind("raw_manure", "raw manure, animal not said", "farmyard manure", raw=True),
            InputKind("raw_cattle_manure", "raw cattle manure", "cattle farmyard manure", raw=True),
            InputKind("raw_pig_manure", "raw pig manure", "pig farmyard manure", raw=True),
            InputKind("raw_sheep_manure", "raw sheep manure", "sheep farmyard manure", raw=True),
            InputKind("raw_horse_manure", "raw horse manure", "horse farmyard manure", raw=True),
            InputKind("raw_duck_manure", "raw duck manure", "duck farmyard manure", raw=True),
            InputKind("raw_poultry_manure", "raw poultry manure", "", raw=True),
            InputKind("dungstead_manure", "manure from a dungstead", "dungstead manure", raw=True),
            InputKind("composted_manure", "composted manure, animal not said", "", raw=False),
            InputKind("composted_cattle_manure", "composted cattle manure", "dairy compost", raw=False),
            InputKind("composted_poultry_manure", "composted poultry manure", "poultry compost", raw=False),
            InputKind("yard_waste_compost", "compost of yard and plant waste", "yard waste compost", raw=False),
            InputKind("compost", "compost, of what not said", "", raw=False),
            InputKind("inoculant", "inoculant", "", raw=False),
            InputKind("other", "another input", "", raw=False),
        )
    }
)


def kind_label(kind: str) -> str:
    """Return a kind in words for people."""
    return INPUT_KINDS[kind].label if kind else "kind not said"


def raw_kinds() -> frozenset[str]:
    """Return the kinds that are raw manure."""
    return frozenset(row.kind for row in INPUT_KINDS.values() if row.raw)


def shares_by_kind(items: Iterable[tuple[str, str]]) -> tuple[FirstSeasonShare, ...]:
    """Return the first-season shares of items from their kinds, none where kind or handbook knows none.

    Parameter: pairs of item and kind, "" for a kind not said. Sources: MINERAL_SOURCE, or the handbook's row.
    """
    return tuple(share for item, kind in items for share in _shares(item, kind))


def _shares(item: str, kind: str) -> tuple[FirstSeasonShare, ...]:
    if kind == MINERAL:
        return mineral_shares([item])
    if kind == NOT_SAID or not INPUT_KINDS[kind].handbook:
        return ()
    return organic_shares(item, find_organic_input(INPUT_KINDS[kind].handbook))
