"""A second set of measures of a stream of money, one flow a year from year 0 to year T, in plain Python.

Written from the method statement alone, without the library, to be held against it. None stands for no value.
"""

import itertools
import math

SCAN_STEPS = 4000
SCAN_LOG_END = 14.0  # growth factors 1 + r from e^-14 to e^14
BISECTIONS = 200


def present_value(stream, rate):
    """Return the sum of f_t / (1 + r)^t."""
    return sum(flow / (1 + rate) ** year for year, flow in enumerate(stream))


def internal_rate(stream):
    """Return the one rate above -1 at which the stream is worth nothing, None unless there is exactly one.

    The growth factor 1 + r is walked on a fine even grid of its logarithm; each change of sign is a root.
    """
    roots = []
    steps = [SCAN_LOG_END * (2 * step / SCAN_STEPS - 1) for step in range(SCAN_STEPS + 1)]
    for low, high in itertools.pairwise(steps):
        if opposite(worth(stream, low), worth(stream, high)):
            roots.append(math.expm1(bisect(stream, low, high)))
    return roots[0] if len(roots) == 1 else None


def worth(stream, log_growth):
    """Return the worth of a stream at a growth factor, at the year that keeps its numbers small."""
    last = len(stream) - 1
    if log_growth >= 0:
        return sum(flow * math.exp(-log_growth * year) for year, flow in enumerate(stream))
    return sum(flow * math.exp(log_growth * (last - year)) for year, flow in enumerate(stream))


def opposite(left, right):
    """Say whether the sign changes from left to right; a root on the grid itself is counted once, at its left."""
    return (left < 0 <= right) or (left > 0 >= right)


def bisect(stream, low, high):
    """Return where the worth of the stream changes its sign between two logarithms of growth."""
    sign = worth(stream, low)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if opposite(sign, worth(stream, middle)):
            high = middle
        else:
            low = middle
    return (low + high) / 2


def modified_rate(stream, finance_rate, reinvestment_rate):
    """Return the yearly growth from shortfalls, brought to year 0, to gains, brought to year T; None without both."""
    last = len(stream) - 1
    gains = sum(flow * (1 + reinvestment_rate) ** (last - year) for year, flow in enumerate(stream) if flow > 0)
    shortfalls = sum(-flow / (1 + finance_rate) ** year for year, flow in enumerate(stream) if flow < 0)
    if not gains or not shortfalls:
        return None
    return (gains / shortfalls) ** (1 / last) - 1


def payback_years(stream, rate):
    """Return the last time that the added-up discounted flow turns non-negative for good, linear within the year.

    None where it ends below zero, or where nothing is laid out first.
    """
    discounted = [flow / (1 + rate) ** year for year, flow in enumerate(stream)]
    total, totals = 0.0, []
    for flow in discounted:
        total += flow
        totals.append(total)
    if stream[0] >= 0 or totals[-1] < 0:
        return None
    last_short = max(year for year, total in enumerate(totals) if total < 0)
    return last_short + -totals[last_short] / discounted[last_short + 1]


def even_yearly_sum(worth_now, rate, years):
    """Return the same sum every year that is worth as much."""
    if rate == 0:
        return worth_now / years
    return worth_now / sum(1 / (1 + rate) ** year for year in range(1, years + 1))


def benefit_cost_ratio(benefits, costs, first_flow, *, difference):
    """Return benefits over costs; None where costs are not positive, or a difference needs less money first."""
    if costs <= 0 or (difference and first_flow > 0):
        return None
    return benefits / costs
