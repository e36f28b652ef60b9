"""Where a function that is smooth between known edges changes its sign: all such places, not only one.

Each stretch is sampled at 17 Chebyshev points, and halved until the interpolating polynomial's last coefficients are
below 1e-12 of the money moved; the function then is that polynomial to rounding, so that its roots, from the
eigenvalues of the polynomial's companion matrix, are all there are: none is hidden between two samples. Every root
is then moved by Newton's rule with the function itself. Smooth functions of a stretch are resolved at once or after
few halvings; a kink or jump that no edge tells is closed in by halving until it is no wider than rounding.

Source: Trefethen, Approximation Theory and Approximation Practice (2013), chapters 3, 8 and 18 (from memory).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Compare = Callable[[Places, Floats], tuple[Floats, Floats]]
DEGREE = 16
TAIL = 3
"""Coefficients at the end of a polynomial by which one sees that no more are needed."""
RESOLVED = 1e-12
"""Part of all money moved below which the last coefficients count as rounding."""
TIE = 1e-9
"""Part of all money moved below which two systems count as worth the same."""
NARROWEST = 1e-12
"""Relative width below which a stretch is not halved again."""
MOST_HALVINGS = 50
"""Halvings of a stretch at most: one that starts at 0 never gets narrow beside its own ends."""
REAL = 1e-5
"""Imaginary part up to which a root may be real: two roots that nearly touch part along it by rounding."""
NEWTON_STEPS = 3
NODES = np.cos(np.pi * np.arange(DEGREE, -1, -1) / DEGREE)
TO_COEFFICIENTS = np.linalg.inv(chebyshev.chebvander(NODES, DEGREE))


@dataclass(frozen=True)
class Stretch:
    """A stretch of a line, both ends included, with no edge known inside."""

    line: int
    low: float
    high: float


@dataclass(frozen=True)
class Piece:
    """A stretch with its Chebyshev coefficients and the money moved; `is_resolved`, whether they tell it all."""

    stretch: Stretch
    coefficients: Floats
    gross: float
    is_resolved: bool

    def point(self, place: float) -> float:
        """Return the point of the line at a place from -1 to 1 of the piece."""
        low, high = self.stretch.low, self.stretch.high
        return low + (high - low) * (place + 1.0) / 2.0

    def slope(self, place: float) -> float:
        """Return how fast the function rises at a place from -1 to 1 [money per unit of the line]."""
        width = self.stretch.high - self.stretch.low
        steepness = float(chebyshev.chebval(place, chebyshev.chebder(self.coefficients)))
        return steepness * 2.0 / width if width > 0 else np.nan

    def sign(self, place: float) -> int:
        """Return the sign at a place from -1 to 1: 0 within rounding."""
        value = float(chebyshev.chebval(place, self.coefficients))
        return 0 if abs(value) <= RESOLVED * self.gross else int(np.sign(value))

    def is_tie(self, place: float) -> bool:
        """Return whether the two are worth the same at a place from -1 to 1."""
        return abs(float(chebyshev.chebval(place, self.coefficients))) <= TIE * self.gross


@dataclass(frozen=True)
class SignChange:
    """A point at which the sign changes: by passing 0, or by a step across it; `after`, the sign above it.

    `slope`: how fast the function passes 0 [money per unit of the line], NaN at a step; `left_over`: what is left of
    the function there, as a part of all money moved, NaN at a step.
    """

    at: float
    is_step: bool
    after: int
    slope: float
    left_over: float


@dataclass(frozen=True)
class Signs:
    """The signs of a line: `first` from its low end on, 0 where it is 0 all along, None where it is not known."""

    first: int | None
    changes: tuple[SignChange, ...]


def signs_along(compare: Compare, stretches: Sequence[Stretch]) -> dict[int, Signs]:
    """Return the signs of each line, by its number.

    `compare(which, points)` gives the function and the money moved at points of lines; `stretches` of each line from
    low to high, next to each other.
    """
    pieces = _resolve(compare, stretches)
    lines = dict.fromkeys(stretch.line for stretch in stretches)
    found = {line: _signs([piece for piece in pieces if piece.stretch.line == line]) for line in lines}
    return _polished(compare, found)


def _resolve(compare: Compare, stretches: Sequence[Stretch]) -> list[Piece]:
    """Return pieces that tell the function to rounding, in the order of lines and points."""
    waiting, pieces, halvings = list(stretches), [], 0
    while waiting:
        sampled = _sample(compare, waiting)
        waiting, halvings = [], halvings + 1
        for piece in sampled:
            is_last = halvings > MOST_HALVINGS or _is_narrow(piece.stretch)
            if piece.is_resolved or is_last or not np.isfinite(piece.coefficients).all():
                pieces.append(piece)
            else:
                waiting += _halves(piece.stretch)
    return sorted(pieces, key=lambda piece: (piece.stretch.line, piece.stretch.low, piece.stretch.high))


def _sample(compare: Compare, stretches: Sequence[Stretch]) -> list[Piece]:
    low, high = (np.array([getattr(one, end) for one in stretches]) for end in ("low", "high"))
    points = low[:, None] + (high - low)[:, None] * (NODES + 1.0) / 2.0
    points[:, -1] = high
    which = np.repeat([stretch.line for stretch in stretches], DEGREE + 1)
    difference, gross = (one.reshape(points.shape) for one in compare(which, points.ravel()))
    coefficients = difference @ TO_COEFFICIENTS.T
    moved = gross.max(axis=1)
    is_resolved = np.abs(coefficients[:, -TAIL:]).max(axis=1) <= RESOLVED * moved
    rows = zip(stretches, coefficients, moved, is_resolved, strict=True)
    return [Piece(stretch, own, float(money), bool(told)) for stretch, own, money, told in rows]


def _is_narrow(stretch: Stretch) -> bool:
    return stretch.high - stretch.low <= NARROWEST * max(abs(stretch.low), abs(stretch.high))


def _halves(stretch: Stretch) -> tuple[Stretch, Stretch]:
    middle = (stretch.low + stretch.high) / 2.0
    return Stretch(stretch.line, stretch.low, middle), Stretch(stretch.line, middle, stretch.high)


@dataclass(frozen=True)
class _Cell:
    """A part of a piece of one sign, from a place of it on."""

    piece: Piece
    start: float
    sign: int


def _cells(piece: Piece) -> Iterator[_Cell]:
    marks = [-1.0, *(_roots(piece) if piece.is_resolved else ()), 1.0]
    if not piece.is_resolved:
        yield from (_Cell(piece, place, piece.sign(place)) for place in (-1.0, 1.0))
    else:
        yield from (_Cell(piece, start, piece.sign((start + end) / 2.0)) for start, end in pairwise(marks))


def _roots(piece: Piece) -> list[float]:
    """Return the real roots within the piece, from left to right; none where the mean outweighs all the rest."""
    own = chebyshev.chebtrim(piece.coefficients, RESOLVED * piece.gross / DEGREE)
    if len(own) == 1 or abs(own[0]) > np.abs(own[1:]).sum():
        return []
    roots = chebyshev.chebroots(own)
    real = roots.real[np.abs(roots.imag) <= REAL]
    return sorted(float(root) for root in real if -1.0 < root < 1.0)


def _signs(pieces: Sequence[Piece]) -> Signs:
    """Return the signs along a line; parts within rounding of 0 belong to what comes before them."""
    if not all(np.isfinite(piece.coefficients).all() for piece in pieces):
        return Signs(None, ())
    cells = [one for piece in pieces for one in _cells(piece) if one.sign != 0]
    if not cells:
        return Signs(0, ())
    last = {piece.stretch.high: piece for piece in pieces}
    changes = [_change(last, one) for before, one in pairwise(cells) if before.sign != one.sign]
    return Signs(cells[0].sign, tuple(changes))


def _change(by_end: dict[float, Piece], after: _Cell) -> SignChange:
    """Return the change at the start of a cell: at a step where neither side of it is a tie."""
    piece = after.piece
    is_inside = piece.is_resolved and after.start > -1.0
    if not is_inside and not (piece.is_tie(-1.0) or _ends_in_tie(by_end, piece)):
        return SignChange(piece.point(after.start), True, after.sign, np.nan, np.nan)
    return SignChange(piece.point(after.start), False, after.sign, piece.slope(after.start), np.nan)


def _ends_in_tie(by_end: dict[float, Piece], piece: Piece) -> bool:
    """Return whether the piece before this one ends in a tie."""
    before = [end for end in by_end if end <= piece.stretch.low]
    return bool(before) and by_end[max(before)].is_tie(1.0)


def _polished(compare: Compare, found: dict[int, Signs]) -> dict[int, Signs]:
    """Return the signs with every tie moved by Newton's rule."""
    ties = [(line, one) for line, signs in found.items() for one in signs.changes if not one.is_step]
    if not ties:
        return found
    moved = iter(_newton(compare, ties))
    return {
        line: replace(signs, changes=tuple(one if one.is_step else next(moved) for one in signs.changes))
        for line, signs in found.items()
    }


def _newton(compare: Compare, ties: Sequence[tuple[int, SignChange]]) -> list[SignChange]:
    """Return ties moved along the slope of their polynomial to where least is left over."""
    which, slope = np.array([line for line, _ in ties]), np.array([one.slope for _, one in ties])
    at = best = np.array([one.at for _, one in ties])
    least = np.full(at.shape, np.inf)
    for _ in range(NEWTON_STEPS):
        difference, gross = compare(which, at)
        left = np.abs(difference) / gross
        best, least = np.where(left < least, at, best), np.minimum(left, least)
        usable = np.isfinite(slope) & (slope != 0.0)
        at = at - np.where(usable, difference, 0.0) / np.where(usable, slope, 1.0)
    return [
        replace(one, at=float(point), left_over=float(left))
        for (_, one), point, left in zip(ties, best, least, strict=True)
    ]
