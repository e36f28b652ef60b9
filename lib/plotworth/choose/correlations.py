"""Rows that move together: the table correlations.csv, checked, and a Gaussian copula for the uniforms of the draws.

A rank correlation rho of two rows is that of uniforms whose normal scores have the correlation 2 sin(pi rho / 6).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plotworth.case.folder import Case
from plotworth.choose.input import Input
from plotworth.ground.arrays import Array
from plotworth.ground.errors import Fault
from plotworth.ground.glossary import suggest

TABLE, FILE = "correlations", "correlations.csv"
LEAST_EIGENVALUE = 1e-9
LEAST_UNIFORM = 2.0**-54
"""Below the least number above 0 that a generator gives, so that no score is infinite."""
CHOICE, FIXED = "choice", "fixed"
ENDS = ("address_a", "address_b")


@dataclass(frozen=True)
class Cluster:
    """Rows that are correlated with each other, directly or by way of others: addresses and the factor (k, k).

    factor @ factor.T is the matrix of correlations of the normal scores.
    """

    addresses: tuple[str, ...]
    factor: Array


def score_correlation(rank_correlation: Array | float) -> Array:
    """Return the correlation of normal scores that gives a rank correlation: 2 sin(pi rho / 6) (Pearson 1907)."""
    return np.asarray(2.0 * np.sin(np.pi * np.asarray(rank_correlation, np.float64) / 6.0))


def correlation_faults(case: Case, inputs: Mapping[str, Input]) -> list[Fault]:
    """Return every fault of the table: addresses that are none or never drawn, twins, no possible matrix."""
    rows = case.rows(TABLE)
    faults = [fault for row in rows for fault in _row_faults(row, inputs)] + list(_twins(rows))
    return faults or list(_impossible(rows))


def _row_faults(row: Any, inputs: Mapping[str, Input]) -> Iterator[Fault]:
    known = True
    for column in ENDS:
        address = getattr(row, column)
        if address not in inputs:
            known = False
            near = suggest(address, inputs)
            remedy = f"did you mean {near}" if near else "write name/system/crop/season as `plotworth trail` lists it"
            yield Fault(FILE, int(row.line), column, address, "the case has no such number", remedy)
        elif reason := _why_never_drawn(inputs[address]):
            yield Fault(FILE, int(row.line), column, address, reason, "state a range for it, or remove the row")
    if known and row.address_a == row.address_b:
        yield Fault(FILE, int(row.line), "address_b", row.address_b, "a row is correlated with itself", "name another")
    elif known and inputs[row.address_a].nature != inputs[row.address_b].nature:
        rule = "one of the two is drawn once a case and the other once a year"
        yield Fault(
            FILE, int(row.line), "address_b", row.address_b, rule, "give both the same nature, or remove the row"
        )


def _why_never_drawn(one: Input) -> str:
    if one.nature == CHOICE:
        return "a choice is never drawn"
    if one.origin != "typed":
        return f"its value is {one.origin}, which is not drawn from a range of its own"
    if one.low is None or one.high is None or one.low == one.high or one.spread == FIXED:
        return "it has no range to be drawn from"
    return ""


def _twins(rows: Sequence[Any]) -> Iterator[Fault]:
    first: dict[frozenset[str], int] = {}
    for row in rows:
        line = first.setdefault(frozenset((row.address_a, row.address_b)), int(row.line))
        if line != row.line:
            found = f"{row.address_a} and {row.address_b}"
            yield Fault(
                FILE, int(row.line), "address_b", found, f"line {line} states the same pair", "keep one of them"
            )


def _impossible(rows: Sequence[Any]) -> Iterator[Fault]:
    for addresses in _groups(rows):
        own = [row for row in rows if row.address_a in addresses]
        least = float(np.linalg.eigvalsh(_matrix(own, addresses)).min())
        if least < LEAST_EIGENVALUE:
            lines = ", ".join(str(int(row.line)) for row in own)
            rule = f"no numbers can be correlated as lines {lines} say together (least eigenvalue {least:.3g})"
            remedy = "bring the correlations nearer to 0, or state the pairs that are left out"
            yield Fault(FILE, int(own[0].line), "rank_correlation", ", ".join(addresses), rule, remedy)


def _groups(rows: Sequence[Any]) -> list[tuple[str, ...]]:
    """Return the addresses of rows that hang together, in order of first appearance."""
    groups: list[list[str]] = []
    for row in rows:
        pair = [row.address_a, row.address_b]
        touched = [group for group in groups if set(group) & set(pair)]
        groups = [group for group in groups if group not in touched]
        groups.append(list(dict.fromkeys([*(at for group in touched for at in group), *pair])))
    return [tuple(group) for group in groups]


def _matrix(rows: Sequence[Any], addresses: tuple[str, ...]) -> Array:
    """Return the correlations of the normal scores, shape (k, k); pairs that are not stated are 0."""
    matrix = np.eye(len(addresses))
    for row in rows:
        a, b = addresses.index(row.address_a), addresses.index(row.address_b)
        matrix[a, b] = matrix[b, a] = score_correlation(row.rank_correlation)
    return matrix


def clusters(case: Case, drawn: Sequence[str]) -> tuple[Cluster, ...]:
    """Return the rows of a checked case that are drawn together; a pair not all of which is `drawn` is left out."""
    rows = [row for row in case.rows(TABLE) if {row.address_a, row.address_b} <= set(drawn)]
    return tuple(
        Cluster(
            group, np.asarray(np.linalg.cholesky(_matrix([r for r in rows if r.address_a in group], group)), np.float64)
        )
        for group in _groups(rows)
    )


def correlate(uniforms: Array, cluster: Cluster, places: Sequence[int]) -> None:
    """Make the rows of `uniforms` at `places` correlated as the cluster says, in place; shape (row, ...) in [0, 1)."""
    from scipy.special import ndtr, ndtri

    scores = ndtri(np.maximum(uniforms[list(places)], LEAST_UNIFORM))
    uniforms[list(places)] = ndtr(np.tensordot(cluster.factor, scores, axes=1))
