"""What the design of a trial allows one to say, found from its tables before anything is compared.

What was drawn by lot is the unit. Each trial (one crop, one site, one season) is looked at on its own;
what differs between treatments is looked at over all of them. Key: Hurlbert (1984) Ecol. Monogr. 54:187.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations

import pandas as pd

from plotworth.field.arrangement import Arrangement
from plotworth.field.audit_blocks import block_findings, standing_findings
from plotworth.field.audit_features import between_findings, control_findings, factor_findings, package_findings
from plotworth.field.audit_records import death_findings, meter_findings, window_findings, zero_findings
from plotworth.field.audit_units import draw_findings, replication_findings, sample_findings
from plotworth.field.features import TREATMENT, Features, features
from plotworth.field.finding import REFUSES, SEVERITIES, Finding, texts
from plotworth.field.interspersion import Standing

ONE_TRIAL = ("crop", "site", "trial_year")


def audit(
    plots: pd.DataFrame,
    harvests: pd.DataFrame,
    *,
    arrangement: Arrangement | None = None,
    references: Mapping[str, str] | None = None,
    compared: Iterable[str] = (),
    inputs: pd.DataFrame | None = None,
    water: pd.DataFrame | None = None,
    described: Mapping[str, Mapping[str, str]] | None = None,
    standings: Iterable[Standing] = (),
) -> tuple[Finding, ...]:
    """Return what is found, the gravest first.

    Parameters: the record tables as a case holds them; arrangement, None where nothing says how treatments were
    drawn by lot; references, treatments by what they stand for ({"present practice": "hand"}; "" where none);
    compared, treatments held against them (all without references, two and two, where there are two);
    described, features known from elsewhere, by name and treatment; standings, places within blocks.
    """
    held = features(plots, inputs, arrangement=arrangement, described=described)
    found = [*draw_findings(arrangement), *between_findings(plots)]
    for name, rows in trials_of(plots):
        found += _named(name, _of_one_trial(rows, harvests, arrangement))
    found += factor_findings(plots, arrangement)
    found += package_findings(held, _pairs(held, references or {}, tuple(compared)))
    found += control_findings(plots, references or {})
    found += [*meter_findings(plots, water), *standing_findings(standings)]
    return tuple(sorted(dict.fromkeys(found), key=lambda finding: SEVERITIES.index(finding.severity)))


def trials_of(plots: pd.DataFrame) -> tuple[tuple[str, pd.DataFrame], ...]:
    """Return the trials in the table, each with its name: "" where there is one only.

    Rows of one crop, site and season, except where treatments do not meet in any of these: then all rows
    are one, since nothing could be compared inside.
    """
    keys = pd.concat([texts(plots, column) for column in ONE_TRIAL], axis=1)
    told = [column for column in ONE_TRIAL if keys[column].nunique() > 1]
    if not told:
        return (("", plots),)
    groups = [(" ".join(map(str, key)), rows) for key, rows in plots.groupby([keys[c] for c in told], sort=False)]
    meeting = [(name, rows) for name, rows in groups if texts(rows, TREATMENT).nunique() > 1]
    return tuple(meeting) or (("", plots),)


def _of_one_trial(plots: pd.DataFrame, harvests: pd.DataFrame, arrangement: Arrangement | None) -> Iterator[Finding]:
    own = harvests[texts(harvests, "plot").isin(texts(plots, "plot"))]
    yield from sample_findings(plots, arrangement)
    yield from replication_findings(plots, own, arrangement)
    yield from block_findings(plots, arrangement)
    yield from window_findings(plots, own)
    yield from zero_findings(plots, own)
    yield from death_findings(plots, own)


def _named(trial: str, findings: Iterable[Finding]) -> Iterator[Finding]:
    for finding in findings:
        yield replace(finding, sentence=f"{trial}: {finding.sentence}") if trial else finding


def _pairs(held: Features, references: Mapping[str, str], compared: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    known = set(held.treatments)
    against = [name for name in dict.fromkeys(references.values()) if name in known]
    if not against and len(known) == 2:
        yield from combinations(held.treatments, 2)
    seen: set[frozenset[str]] = set()
    for reference in against:
        for treatment in compared or held.treatments:
            pair = frozenset((treatment, reference))
            if treatment in known and len(pair) == 2 and pair not in seen:
                seen.add(pair)
                yield treatment, reference


def refusals(findings: Iterable[Finding], treatments: Iterable[str], *, differing: Iterable[str] = ()) -> list[Finding]:
    """Return the findings that refuse a comparison of these treatments, which differ in these features."""
    pair, apart = tuple(treatments), tuple(differing)
    return [f for f in findings if f.severity == REFUSES and f.concerns(pair, differing=apart)]
