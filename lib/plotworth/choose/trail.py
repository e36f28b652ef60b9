"""The trail of an outcome: its formula in words, the inputs it stands on with line, grade and source, the record rows.

What it stands on is not typed but recorded by the composition, see `recorded`. The formulas in words stand in
`ground/tables/formulas.csv`, those of values worked out from others beside the functions that compute them.
"""

import difflib
from collections.abc import Iterator
from dataclasses import dataclass

from plotworth.choose.appraise import PARTS, Appraisal, reference_ids, units
from plotworth.choose.computed import FORMULAS
from plotworth.choose.input import Input
from plotworth.choose.recorded import Recorded, record
from plotworth.choose.simulated import WORDS
from plotworth.choose.structure import AREA, SeasonPlan
from plotworth.choose.trail_formula import formula_words, worked_sentence
from plotworth.choose.trail_records import RecordRows, handbook_notes, trial_rows, weather_rows
from plotworth.ground.errors import PlotworthError
from plotworth.ground.glossary import GLOSSARY

SEASONS = "seasons"
NEAR, CUTOFF = 4, 0.6
WHOLE_SYSTEM = "peak_requirement_l_per_m2_per_day"
"""The one simulated value that stands on all seasons of its system."""
SALT = "salt_limited_share"


@dataclass(frozen=True)
class TrailInput:
    """An input on a trail: what and where it is, its value in force [its unit], NaN where it is unknown.

    `still` says why it does not move the outcome, "" where it does; `formula` in words where it is worked out from
    others, which are in `stands_on`; `records` are the rows it was taken from; `notes` what a simulation assumed.
    """

    input: Input
    value: float
    still: str
    formula: str
    stands_on: tuple["TrailInput", ...]
    records: tuple[RecordRows, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Trail:
    """From one outcome back: path, name, label, meaning, value in its unit (NaN with a reason), formula, inputs.

    `worked` is the formula with the numbers in force, "" where it has more than a few terms. `inputs` move the
    outcome, `still` enter and do not.
    """

    path: str
    name: str
    label: str
    meaning: str
    value: float
    unit: str
    reason: str
    formula: str
    worked: str
    inputs: tuple[TrailInput, ...]
    still: tuple[TrailInput, ...]


def outcome_paths(appraisal: Appraisal) -> tuple[str, ...]:
    """Return the path of every outcome that has a trail: part/system/name, and seasons/system/season/name."""
    parts = [(part, appraisal.part(part)) for part in PARTS] + [(SEASONS, appraisal.seasons)]
    return tuple(f"{part}/{key}/{name}" for part, keyed in parts for key, own in keyed.items() for name in own)


def trail(appraisal: Appraisal, path: str, *, recorded: Recorded | None = None) -> Trail:
    """Return the trail of an outcome such as `systems/drip/npv` or `seasons/drip/dry/water_l_per_m2`.

    Parameters: the appraisal, whose values are in force; path; recorded, what `record` gave for these values, so that
    many trails need it once. Errors: PlotworthError where there is no such outcome, with those that are near.
    """
    _require(appraisal, path)
    found = recorded or record(appraisal.layout, appraisal.values)
    part, *keys, name = path.split("/")
    figures = appraisal.seasons if part == SEASONS else appraisal.part(part)
    direct, maker = _direct(appraisal), _Maker(appraisal, found)
    term = GLOSSARY[name]
    return Trail(
        path=path,
        name=name,
        label=term.label,
        meaning=term.meaning,
        value=figures["/".join(keys)][name],
        unit=units(appraisal.case.settings.currency)[name],
        reason=appraisal.why.get(path, ""),
        formula=formula_words(appraisal, path),
        worked=worked_sentence(appraisal, path),
        inputs=tuple(maker.made(at, path) for at in found.moves[path] if at in direct),
        still=tuple(maker.made(at, path) for at in found.still[path] if at in direct),
    )


def _require(appraisal: Appraisal, path: str) -> None:
    paths = outcome_paths(appraisal)
    if path in paths:
        return
    same_end = [one for one in paths if one.endswith(f"/{path.rsplit('/', 1)[-1]}")]
    near = difflib.get_close_matches(path, same_end or paths, n=NEAR, cutoff=CUTOFF) or same_end[:NEAR]
    meant = f"; near are {', '.join(near)}" if near else ""
    raise PlotworthError(f"there is no outcome {path!r}{meant}; without an outcome the command lists all of them.")


def _direct(appraisal: Appraisal) -> set[str]:
    """Return the addresses that the composition reads itself, not by way of a value worked out from them."""
    found = {AREA}
    for system in appraisal.layout.structure.systems:
        found |= {at for plan in system.seasons for at in plan.addresses.values()} | set(system.addresses.values())
        found |= {at for item in system.costs for at in (item.quantity_address, item.price_address)}
        found |= {at for row in system.labour for at in (row.hours_address, row.family_share_address)}
    return found


class _Maker:
    """Makes the inputs of a trail, each with what it stands on itself."""

    def __init__(self, appraisal: Appraisal, recorded: Recorded) -> None:
        self.appraisal, self.recorded = appraisal, recorded
        structure = appraisal.layout.structure
        self.computed = {item.address: item for item in structure.computed}
        self.simulated = {item.address: item for item in structure.simulated}

    def made(self, at: str, path: str) -> TrailInput:
        """Return the input at an address on the trail of an outcome."""
        one = self.appraisal.layout.inputs[at]
        return TrailInput(
            input=one,
            value=float(self.appraisal.values[at].flat[0]),
            still=self.recorded.still[path].get(at, ""),
            formula=self._formula(at),
            stands_on=tuple(self.made(below, path) for below in self._below(at)),
            records=self._records(at, one),
            notes=self._notes(at),
        )

    def _formula(self, at: str) -> str:
        if at in self.computed:
            return FORMULAS[self.computed[at].name].words
        return WORDS[self.simulated[at].name] if at in self.simulated else ""

    def _below(self, at: str) -> tuple[str, ...]:
        if at in self.computed:
            return tuple(self.computed[at].inputs.values())
        return self.recorded.simulated_from.get(at, ())

    def _records(self, at: str, one: Input) -> tuple[RecordRows, ...]:
        layout = self.appraisal.layout
        if self._is_followed(at):
            return weather_rows(layout, self.appraisal.values, *self._seasons(at))
        return trial_rows(layout, at) if one.origin == "trial" else ()

    def _notes(self, at: str) -> tuple[str, ...]:
        if not self._is_followed(at):
            return ()
        return handbook_notes(self.appraisal.layout, self.appraisal.values, *self._seasons(at))

    def _is_followed(self, at: str) -> bool:
        """Whether a value comes from a season followed day by day; what salt leaves is a line of the handbook."""
        return at in self.simulated and self.simulated[at].name != SALT

    def _seasons(self, at: str) -> tuple[str, tuple[SeasonPlan, ...]]:
        item = self.simulated[at]
        plans = self.appraisal.layout.structure.system(item.system).seasons
        own = tuple(plan for plan in plans if item.name == WHOLE_SYSTEM or plan.season == item.season)
        return item.system, own


def all_inputs(trail: Trail) -> Iterator[TrailInput]:
    """Yield every input of a trail that moves it or stands still, those below worked-out values among them."""
    waiting = [*trail.inputs, *trail.still]
    while waiting:
        one = waiting.pop(0)
        yield one
        waiting = [*one.stands_on, *waiting]


def reference_of(appraisal: Appraisal, part: str) -> str:
    """Return the id of the system that a part's figures are set against, "" where they stand alone."""
    return reference_ids(appraisal.case).get(part, "")
