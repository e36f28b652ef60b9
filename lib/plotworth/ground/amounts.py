"""Amounts as people read them: two or three figures, thousands grouped, the unit always beside the number.

The group mark is a narrow no-break space, so that neither a comma nor a point can be taken for the decimal
mark of another country. Minus is the true minus sign, which screen readers speak.
"""

import math

GROUP_MARK = "\u202f"
MINUS = "\u2212"
NO_BREAK = "\u00a0"
UNKNOWN = "not known"
USUAL_DIGITS = 3
INTERVAL_DIGITS = 2


def decimals_for(size: float, *, digits: int) -> int:
    """Return the decimals that leave `digits` significant figures of a size; negative above the units place.

    Equation: digits - 1 - floor(log10 |size|), the size first rounded to those digits (9.996 counts as 10.0).
    """
    if size == 0 or not math.isfinite(size):
        return 0
    rounded = float(f"{abs(size):.{digits - 1}e}")
    return digits - 1 - math.floor(math.log10(rounded))


def number_text(value: float, *, decimals: int) -> str:
    """Return a number rounded to decimals (negative: to tens, hundreds), grouped; `not known` for NaN."""
    if not math.isfinite(value):
        return UNKNOWN
    rounded = round(value, decimals)
    grouped = f"{abs(rounded):,.{max(decimals, 0)}f}".replace(",", GROUP_MARK)
    return (MINUS if rounded < 0 else "") + grouped


def figures_text(value: float, *, digits: int = USUAL_DIGITS) -> str:
    """Return a number to at most so many significant figures, grouped: 12345 is `12 300`, 60 is `60`."""
    text = number_text(value, decimals=decimals_for(value, digits=digits))
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount_text(value: float, unit: str, *, digits: int = USUAL_DIGITS) -> str:
    """Return number and unit, kept on one line: `12 300 L/m²`; a NaN is `not known` without a unit."""
    number = figures_text(value, digits=digits)
    return number if number == UNKNOWN or not unit else f"{number}{NO_BREAK}{unit}"


def money_text(value: float, currency: str, *, digits: int = USUAL_DIGITS) -> str:
    """Return an amount of money with its ISO 4217 code before it: `XTS −12 300`."""
    number = figures_text(value, digits=digits)
    return number if number == UNKNOWN else f"{currency}{NO_BREAK}{number}"


def share_text(share: float, *, digits: int = USUAL_DIGITS) -> str:
    """Return a share of 0-1 in per cent: 0.1234 is `12.3 %`."""
    return amount_text(100 * share, "%", digits=digits)


def unit_words(unit: str) -> str:
    """Return a unit as people read it: `kg/m2` is `kg/m²`, `l/m2` is `L/m²`, a plain number has none."""
    if unit == "1":
        return ""
    parts = ("L" if part == "l" else part for part in unit.split("/"))
    return "/".join(parts).replace("m2", "m²").replace("m3", "m³")


def centre_text(value: float, low: float, high: float, unit: str) -> str:
    """Return a value to the decimals that give the width of its interval two figures; as usual without interval."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return amount_text(value, unit)
    return f"{number_text(value, decimals=decimals_for(high - low, digits=INTERVAL_DIGITS))}{NO_BREAK}{unit}"


def interval_text(value: float, low: float, high: float, unit: str) -> str:
    """Return a value with its interval, all to the decimals that give the interval's width two figures.

    10.234 in 9.1 to 11.4 kg/m² is `10.2 kg/m² (9.1 to 11.4)`; without a finite interval the text says so.
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{amount_text(value, unit)} (no finite interval)"
    decimals = decimals_for(high - low, digits=INTERVAL_DIGITS)
    start, end = (number_text(limit, decimals=decimals) for limit in (low, high))
    return f"{centre_text(value, low, high, unit)} ({start} to {end})"
