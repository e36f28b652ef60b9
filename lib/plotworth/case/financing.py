"""The financing of a case, from `case.toml`: loans and grants of its systems, and each fault with its line."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from plotworth.case.toml_file import TYPE_WORDS, is_kind
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

LOANS, GRANTS = "loans", "grants"
KINDS = ("annuity", "equal_principal", "flat")
PAYMENTS_PER_YEAR = (12, 4, 2, 1)
MONTHS_PER_YEAR = 12
LOAN_SHARE, GRANT_SHARE, AMOUNT = "amount_share_of_investment", "share_of_investment", "amount"
LOAN: dict[str, type] = {
    "system": str,
    "label": str,
    LOAN_SHARE: float,
    AMOUNT: float,
    "rate_per_year": float,
    "years": float,
    "kind": str,
    "payments_per_year": int,
    "grace_months": int,
    "capitalise_grace_interest": bool,
}
GRANT: dict[str, type] = {"system": str, "label": str, GRANT_SHARE: float, AMOUNT: float}
NEEDED = {
    LOANS: ("system", "label", "rate_per_year", "years", "kind", "payments_per_year"),
    GRANTS: ("system", "label"),
}
MOST_MONEY = 1e9
BOUNDS: dict[str, tuple[float, float]] = {
    LOAN_SHARE: (0, 2),
    GRANT_SHARE: (0, 1),
    AMOUNT: (0, MOST_MONEY),
    "rate_per_year": (0, 5),
    "years": (1 / MONTHS_PER_YEAR, 60),
    "grace_months": (0, 600),
}
SHARES = (LOAN_SHARE, GRANT_SHARE, "rate_per_year")
WHOLE_SLACK = 1e-9


@dataclass(frozen=True)
class Loan:
    """A loan of one system, received with the investment.

    `amount_share` [share of the investment] or `amount` [money], the other None; `rate_per_year` nominal, as lenders
    quote it: a payment period bears its part of it; `years` [year] from the money to the last payment, `grace_months`
    [month] of them without repayment, the interest of which is paid or, where `capitalise_grace_interest`, added.
    """

    system: str
    label: str
    amount_share: float | None
    amount: float | None
    rate_per_year: float
    years: float
    kind: str
    payments_per_year: int
    grace_months: int
    capitalise_grace_interest: bool
    line: int

    @property
    def address(self) -> str:
        """The loan's address, to which /rate_per_year, /amount_share or /amount is added."""
        return f"loan/{self.system}/{self.label}"


@dataclass(frozen=True)
class Grant:
    """A grant of one system, received with the investment: `share` of the investment or `amount` [money]."""

    system: str
    label: str
    share: float | None
    amount: float | None
    line: int

    @property
    def address(self) -> str:
        """The grant's address, to which /share or /amount is added."""
        return f"grant/{self.system}/{self.label}"


@dataclass
class _Entry:
    """One [[loans]] or [[grants]] table: its values, its lines of the file, and the faults found in it."""

    file: str
    values: dict[str, Any]
    first_line: int
    lines: Sequence[str]
    faults: list[Fault] = field(default_factory=list)

    def fault(self, key: str, rule: str, remedy: str) -> None:
        """Add a fault at the line where a key is set, else at the head of the table."""
        starts = (n for n, line in enumerate(self.lines) if re.match(rf"\s*{re.escape(key)}\s*=", line))
        found = self.values.get(key)
        text = "" if found is None else str(found)
        self.faults.append(Fault(self.file, self.first_line + next(starts, 0), key, text, rule, remedy))


def read_financing(
    raw: dict[str, Any], text: str, *, file: str, systems: Sequence[str], horizon_years: int
) -> tuple[tuple[Loan, ...], tuple[Grant, ...], list[Fault]]:
    """Return the loans and grants among the values of a `case.toml`, and their faults; none of either with a fault.

    `text` is that of the file, in which lines are found; a loan must end within `horizon_years`.
    """
    loans, grants = (_entries(raw.get(kind, []), kind, text, file) for kind in (LOANS, GRANTS))
    for entry in loans:
        _check(entry, LOANS, LOAN, LOAN_SHARE, systems)
        if not entry.faults:
            _check_loan(entry, horizon_years)
    for entry in grants:
        _check(entry, GRANTS, GRANT, GRANT_SHARE, systems)
    _check_twins(loans)
    _check_twins(grants)
    if not any(entry.faults for entry in grants):
        _check_whole(grants)
    faults = [fault for entry in (*loans, *grants) for fault in entry.faults]
    if faults:
        return (), (), faults
    return tuple(map(_loan, loans)), tuple(map(_grant, grants)), []


def _entries(found: object, kind: str, text: str, file: str) -> list[_Entry]:
    """Return the tables of a kind, each with its lines; one of no values where it is no list of tables."""
    lines = text.splitlines()
    starts = [n for n, line in enumerate(lines) if re.match(rf"\s*\[\[\s*{kind}\s*\]\]", line)]
    if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
        entry = _Entry(file, {kind: found}, 1, lines)
        entry.fault(kind, "each is a table of its own", f"write [[{kind}]] and below it {', '.join(NEEDED[kind])}")
        return [entry]
    if len(starts) != len(found):
        return [_Entry(file, values, 0, ()) for values in found]
    return [
        _Entry(file, values, start + 1, list(_block(lines[start:])))
        for values, start in zip(found, starts, strict=True)
    ]


def _block(lines: Sequence[str]) -> Iterator[str]:
    """Yield the lines of the table that begins with the first of them."""
    yield lines[0]
    for line in lines[1:]:
        if line.lstrip().startswith("["):
            return
        yield line


def _check(entry: _Entry, table: str, keys: dict[str, type], share: str, systems: Sequence[str]) -> None:
    if entry.faults:
        return
    _check_keys(entry, table, keys)
    if entry.faults:
        return
    values = entry.values
    if values["system"] not in systems:
        near = suggest(values["system"], systems)
        remedy = f"did you mean {near}" if near else f"write one of {', '.join(systems)}"
        entry.fault("system", "the case has no such system", remedy)
    if not values["label"].strip() or "/" in values["label"]:
        entry.fault("label", "a label is not blank and has no /, which parts an address", "write another label")
    if (share in values) == (AMOUNT in values):
        found = "both are stated" if share in values else "neither is stated"
        entry.fault(share, f"needs one of {share} and {AMOUNT}; {found}", f"write {share} or {AMOUNT}")
    for key, (low, high) in BOUNDS.items():
        if key in values and not low <= values[key] <= high:
            percent = key in SHARES and values[key] > high
            remedy = f"write {values[key] / 100:g} if {values[key]:g} % is meant" if percent else "correct the number"
            entry.fault(key, f"must lie between {low:.3g} and {high:g}", remedy)


def _check_keys(entry: _Entry, table: str, keys: dict[str, type]) -> None:
    for key, value in entry.values.items():
        if key not in keys:
            near = suggest(key, keys)
            remedy = f"did you mean {near}" if near else f"use {', '.join(keys)}, or remove it"
            entry.fault(key, f"[[{table}]] has no such setting", remedy)
        elif not is_kind(value, keys[key]):
            entry.fault(key, "of another kind", f"write {TYPE_WORDS[keys[key]]}")
    for key in NEEDED[table]:
        if key not in entry.values:
            entry.fault(key, f"[[{table}]] lacks it", f"write {key} = {TYPE_WORDS[keys[key]]}")


def _check_loan(entry: _Entry, horizon_years: int) -> None:
    values = entry.values
    for key, allowed in (("kind", KINDS), ("payments_per_year", PAYMENTS_PER_YEAR)):
        if values[key] not in allowed:
            words = ", ".join(map(str, allowed))
            entry.fault(key, f"must be one of {words}", f"write one of {words}")
    if values["years"] > horizon_years:
        rule = f"the loan is not repaid within the horizon of {horizon_years} years"
        entry.fault("years", rule, "shorten the loan or lengthen horizon_years: what is never repaid would be a gift")
    if not entry.faults:
        _check_periods(entry)


def _check_periods(entry: _Entry) -> None:
    """Check that loan and grace are whole payment periods, and that the grace leaves time to repay."""
    values = entry.values
    spacing = MONTHS_PER_YEAR // values["payments_per_year"]
    months, grace = values["years"] * MONTHS_PER_YEAR, values.get("grace_months", 0)
    words = f"{values['payments_per_year']} payments a year stand {spacing} months apart"
    if abs(months / spacing - round(months / spacing)) > WHOLE_SLACK or months < spacing:
        entry.fault("years", f"{months:g} months are not whole payment periods: {words}", "write whole periods")
    elif grace % spacing:
        remedy = f"write a multiple of {spacing}"
        entry.fault("grace_months", f"{grace} months are not whole payment periods: {words}", remedy)
    elif grace >= round(months):
        entry.fault("grace_months", f"a grace as long as the loan, {months:g} months", "leave periods to repay in")


def _check_twins(entries: Sequence[_Entry]) -> None:
    seen: set[tuple[Any, Any]] = set()
    for entry in entries:
        key = entry.values.get("system"), entry.values.get("label")
        if key in seen and None not in key:
            entry.fault("label", f"the system {key[0]} has another of this label", "give each a label of its own")
        seen.add(key)


def _check_whole(grants: Sequence[_Entry]) -> None:
    """Check that the shares of a system's grants do not come to more than the investment."""
    for entry in grants:
        system = entry.values["system"]
        total = sum(one.values.get(GRANT_SHARE, 0.0) for one in grants if one.values["system"] == system)
        if total > 1 + WHOLE_SLACK:
            rule = f"the grants of {system} come to {total:g} of its investment"
            entry.fault(GRANT_SHARE, rule, "make them come to 1 at most")


def _loan(entry: _Entry) -> Loan:
    values = entry.values
    return Loan(
        system=values["system"],
        label=values["label"],
        amount_share=_number(values, LOAN_SHARE),
        amount=_number(values, AMOUNT),
        rate_per_year=float(values["rate_per_year"]),
        years=float(values["years"]),
        kind=values["kind"],
        payments_per_year=values["payments_per_year"],
        grace_months=values.get("grace_months", 0),
        capitalise_grace_interest=values.get("capitalise_grace_interest", False),
        line=entry.first_line,
    )


def _grant(entry: _Entry) -> Grant:
    values = entry.values
    system, label = values["system"], values["label"]
    return Grant(system, label, _number(values, GRANT_SHARE), _number(values, AMOUNT), entry.first_line)


def _number(values: dict[str, Any], key: str) -> float | None:
    return float(values[key]) if key in values else None
