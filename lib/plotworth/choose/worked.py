"""One worked number: a formula with the values in force put in, "0.95 x (1 - 0.1) - 0.06 = 0.795 XTS/kg".

Expressions are those of the table of formulas: names of quantities, numbers, + - * / **, and max(a; b). What stands on
nothing that the book states and changes nothing (a factor of 1, an amount of 0) is left out of the sentence.
"""

import ast
import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite

import numpy as np

SHOWN_DIGITS = 6
MOST_DIGITS, FEWEST_DIGITS = 5, 2
SIGNS: Mapping[type[ast.operator], tuple[str, int, Callable[[float, float], float]]] = {
    ast.Add: (" + ", 1, operator.add),
    ast.Sub: (" - ", 1, operator.sub),
    ast.Mult: (" x ", 2, operator.mul),
    ast.Div: (" / ", 2, operator.truediv),
    ast.Pow: ("^", 3, operator.pow),
}
"""Sign, how tightly it binds, and what it does."""
ATOM = 4


@dataclass(frozen=True)
class Term:
    """A part of a sentence: its text, what it comes to, how tightly it binds, whether it may be left out."""

    text: str
    value: float
    binds: int
    is_plain: bool


def plain(value: float) -> Term:
    """Return a number that may be left out where it changes nothing."""
    return Term(number(value), value, ATOM, is_plain=True)


def stated(value: float) -> Term:
    """Return a number of the case, which is always shown."""
    return Term(number(value), value, ATOM, is_plain=False)


def number(value: float) -> str:
    """Return a number to six figures without grouping or exponent, a negative one in brackets."""
    text = np.format_float_positional(abs(value), precision=SHOWN_DIGITS, fractional=False, trim="-")
    return f"({'-'}{text})" if value < 0 else text


def names_of(expression: str) -> list[str]:
    """Return the names of quantities in an expression, in their order."""
    tree = ast.parse(expression.replace(";", ","), mode="eval")
    found = [node for node in ast.walk(tree) if isinstance(node, ast.Name) and node.id != "max"]
    return list(dict.fromkeys(node.id for node in sorted(found, key=lambda node: node.col_offset)))


def worked(expression: str, terms: Mapping[str, Term]) -> Term:
    """Return an expression with the terms of its names put in."""
    return _term(ast.parse(expression.replace(";", ","), mode="eval").body, terms)


def sentence(term: Term, value: float, unit: str) -> str:
    """Return what a term comes to, to as many digits as its shown numbers give; "" where there is nothing to show."""
    if term.is_plain or term.binds == ATOM or not (isfinite(term.value) and isfinite(value)):
        return ""
    shown = comes_to(term.text)
    for digits in range(MOST_DIGITS, FEWEST_DIGITS - 1, -1):
        told, true = (
            np.format_float_positional(x, precision=digits, fractional=False, trim="-") for x in (shown, value)
        )
        if told == true:
            return f"{term.text} = {told} {unit}".rstrip()
    return ""


def comes_to(text: str) -> float:
    """Return what the arithmetic of a sentence comes to, with the numbers as they are shown."""
    expression = text.replace(" x ", " * ").replace("^", "**")
    return _term(ast.parse(expression, mode="eval").body, {}).value


def _term(node: ast.expr, terms: Mapping[str, Term]) -> Term:
    if isinstance(node, ast.Name):
        return terms[node.id]
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return plain(float(node.value))
    if isinstance(node, ast.UnaryOp):
        return _negative(_term(node.operand, terms))
    if isinstance(node, ast.Call):
        return _greater(*(_term(argument, terms) for argument in node.args))
    if isinstance(node, ast.BinOp):
        return _joined(node.op, _term(node.left, terms), _term(node.right, terms))
    raise ValueError(f"no part of a formula: {ast.unparse(node)}")


def _negative(term: Term) -> Term:
    return Term(f"-{_bracketed(term, ATOM)}", -term.value, ATOM, term.is_plain)


def _greater(one: Term, other: Term) -> Term:
    if one.is_plain and other.is_plain:
        return plain(max(one.value, other.value))
    return Term(f"max({one.text}, {other.text})", max(one.value, other.value), ATOM, is_plain=False)


def _joined(sign: ast.operator, left: Term, right: Term) -> Term:
    mark, binds, compute = SIGNS[type(sign)]
    value = _computed(compute, left.value, right.value)
    if left.is_plain and right.is_plain:
        return plain(value)
    if neutral := _without_neutral(mark.strip(), left, right):
        return neutral
    right_binds = binds + 1 if mark.strip() in ("-", "/", "^") else binds
    return Term(f"{_bracketed(left, binds)}{mark}{_bracketed(right, right_binds)}", value, binds, is_plain=False)


def _computed(compute: Callable[[float, float], float], left: float, right: float) -> float:
    try:
        return compute(left, right)
    except ZeroDivisionError:
        return float("nan")


def _without_neutral(mark: str, left: Term, right: Term) -> Term | None:
    """Return one side alone where the other changes nothing: 0 added, 1 multiplied; or the 0 that makes all 0."""
    adds, times = mark in ("+", "-"), mark == "x"
    if right.is_plain and right.value == (0.0 if adds else 1.0):
        return left
    if left.is_plain and ((mark == "+" and left.value == 0.0) or (times and left.value == 1.0)):
        return right
    if times and any(side.is_plain and side.value == 0.0 for side in (left, right)):
        return plain(0.0)
    return None


def _bracketed(term: Term, binds: int) -> str:
    return f"({term.text})" if term.binds < binds else term.text
