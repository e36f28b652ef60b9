"""A case appraised: every outcome as a plain number, its unit, and the reason where there is none."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from plotworth.case.folder import Case
from plotworth.choose.checks import Check, Evidence, master_checks
from plotworth.choose.computed import with_computed
from plotworth.choose.evaluate import evaluate, run_systems
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.reasons import Reasons, unknown_sentence
from plotworth.choose.simulated import with_simulated
from plotworth.choose.structure import AREA
from plotworth.choose.unknown import waiting
from plotworth.choose.verdict import Verdict, headline, verdicts
from plotworth.ground.arrays import Array
from plotworth.ground.glossary import GLOSSARY, unit_text
from plotworth.money.cashflow import by_year
from plotworth.money.rates import all_rates_of_return

PARTS = ("systems", "against_baseline", "against_today")
INTERVAL = ("less_water_share_low", "less_water_share_high")
Plain = dict[str, dict[str, float]]
Values = Mapping[str, Array]


@dataclass(frozen=True)
class Appraisal:
    """One case appraised in the full view.

    `systems[id][name]`, `against_baseline[id][name]` and `against_today[id][name]` are numbers, NaN where there
    is no value; `seasons["id/season"][name]` likewise; `flows[id]` [money] by year 0..T; `irr_roots` by
    part/system; `why` by path; `headline` and `verdicts`, in the order of the systems, say it in sentences;
    `values` by address are those it was computed with; `checks` are the master checks.
    """

    case: Case
    layout: Layout
    values: Values
    systems: Plain
    against_baseline: Plain
    against_today: Plain
    seasons: Plain
    flows: Mapping[str, Array]
    irr_roots: Mapping[str, tuple[float, ...]]
    why: Mapping[str, str]
    headline: str
    verdicts: tuple[Verdict, ...]
    checks: tuple[Check, ...]

    def part(self, name: str) -> Plain:
        """Return `systems`, `against_baseline` or `against_today` by name."""
        return {
            "systems": self.systems,
            "against_baseline": self.against_baseline,
            "against_today": self.against_today,
        }[name]


def appraise(case: Case) -> Appraisal:
    """Return a case appraised with the values of its own book.

    Raises FaultsError where an assumption is missing or a `trial` value was not measured.
    """
    layout = lay_out(case)
    return appraise_layout(case, layout, layout.values)


def appraise_layout(case: Case, layout: Layout, values: Values) -> Appraisal:
    """Return a laid-out case appraised with `values` by address, shapes (1, 1): the book's, or a slider's."""
    structure = layout.structure
    values = with_computed(structure.computed, with_simulated(layout, values))
    shocks = expected_shocks(structure, values)
    outcome = evaluate(structure, values, shocks)
    figures = {part: _plain(getattr(outcome, part)) for part in PARTS}
    years = run_systems(structure, values, shocks)
    by_system = {name: by_year(one.amounts, one.weights, structure.horizon_years) for name, one in years.items()}
    flows = {name: array[:, 0, 0] for name, array in by_system.items()}
    why = Reasons(figures, _plain(outcome.facts), structure.main_crop).told(_references(case))
    why |= {path: unknown_sentence(ones) for path, ones in waiting(layout, values, figures).items()}
    _add_intervals(layout, case, figures, why)
    seasons = _plain(outcome.seasons)
    differences = {part: figures[part] for part in PARTS[1:]}
    rate = float(values["discount_rate"][0, 0])
    evidence = Evidence(figures["systems"], differences, reference_ids(case), seasons, flows, rate, years, values)
    return Appraisal(
        case=case,
        layout=layout,
        values=values,
        **figures,
        seasons=seasons,
        flows=flows,
        irr_roots=_roots(case, flows, figures, _plain(outcome.facts)),
        why=why,
        headline=headline(case, figures, float(values[AREA][0, 0])),
        verdicts=verdicts(case, figures),
        checks=master_checks(evidence),
    )


def _plain(part: Mapping[str, Mapping[str, Array]]) -> Plain:
    return {key: {name: float(array[0, 0]) for name, array in figures.items()} for key, figures in part.items()}


def _references(case: Case) -> dict[str, str]:
    settings = case.settings
    baseline, today = (settings.system(name).label for name in (settings.baseline, settings.today))
    return {"systems": "", "against_baseline": baseline, "against_today": today}


def reference_ids(case: Case) -> dict[str, str]:
    """Return the id of the system that each part of differences is taken from."""
    return {"against_baseline": case.settings.baseline, "against_today": case.settings.today}


def _roots(
    case: Case, flows: Mapping[str, Array], figures: Mapping[str, Plain], facts: Plain
) -> dict[str, tuple[float, ...]]:
    """Return every rate of return by part/system; looked for only where there is more than the one already found."""
    references = {"systems": "", **reference_ids(case)}
    roots: dict[str, tuple[float, ...]] = {}
    for part, systems in figures.items():
        for system, values in systems.items():
            count = int(facts[f"{part}/{system}"]["root_count"])
            flow = flows[system] - flows[references[part]] if references[part] else flows[system]
            roots[f"{part}/{system}"] = all_rates_of_return(flow) if count > 1 else (values["irr"],)[:count]
    return roots


def _add_intervals(layout: Layout, case: Case, figures: Mapping[str, Plain], why: dict[str, str]) -> None:
    """Add the interval of less water drawn, where the trial measured both systems; else the reason."""
    for part, reference in reference_ids(case).items():
        for system, values in figures[part].items():
            low, high, reason = _interval(layout, system, reference, values["less_water_share"])
            for name, end in zip(INTERVAL, (low, high), strict=True):
                values[name] = end
                if math.isnan(end):
                    why[f"{part}/{system}/{name}"] = why.get(f"{part}/{system}/less_water_share", reason)


def _interval(layout: Layout, system: str, reference: str, share: float) -> tuple[float, float, str]:
    """Return low and high of the share, and the reason where there are none.

    The trial's interval is that of litres drawn for the plots; delivery shares that were typed move both
    ends with the ratio and are taken as certain.
    """
    if layout.trial is None or not all(_is_measured(layout, name) for name in (system, reference)):
        return math.nan, math.nan, "no interval: the water of one of the two was not measured by the trial"
    measured = layout.trial.less_water[system, reference]
    if measured.less_water_share == 1.0:
        return math.nan, math.nan, "no finite interval: the plots of the trial drew no water"
    stretch = (1.0 - share) / (1.0 - measured.less_water_share)
    low, high = (1.0 - stretch * (1.0 - end) for end in (measured.low, measured.high))
    return low, high, measured.reason


def _is_measured(layout: Layout, system: str) -> bool:
    seasons = [s for s in layout.structure.system(system).seasons if s.crop == layout.structure.main_crop]
    return bool(seasons) and all(
        layout.inputs[season.addresses["water_applied_l_per_m2"]].origin == "trial" for season in seasons
    )


def units(currency: str) -> dict[str, str]:
    """Return the unit of every outcome, with the case's currency for money."""
    return {term.name: unit_text(term.unit, currency) for term in GLOSSARY.values() if term.is_outcome}
