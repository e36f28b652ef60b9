"""Second opinion, plain Python: what a kilogram brings, and a full year's margin by what it took."""

from independent_trial import number, read_rows

MONTHS = 12
KG_PER_T = 1000


def farm_gate_price(get, sold_kg, factor):
    """Market price in the picking months, less second grade, fall with volume, commission, transport and packing."""
    first, second = 1 - get("second_grade_share", 0), get("second_grade_share", 0) * get("second_grade_price_share", 1)
    falling = max(1 - get("price_fall_share_per_t", 0) * sold_kg / KG_PER_T, 0)
    price = get("market_price_per_kg") * factor * (first + second) * falling
    return price * (1 - get("commission_share", 0)) - get("transport_cost_per_kg", 0) - get("packing_cost_per_kg", 0)


def price_factor(book, where, row):
    """Return the mean price index of the season's months by what is picked in each.

    As the book says it where that is a number; 1 where neither book nor table says anything.
    """
    rows = [each for each in read_rows(book.path, "prices") if each["crop"] == row["crop"]]
    said = book.word("price_factor", *where)
    if not rows or said not in (None, "computed"):
        return 1 if said is None else float(said)
    first, length = int(row["first_month"]), int(row["months"])
    season = {(first - 1 + k) % MONTHS + 1 for k in range(length)}
    rows = [each for each in rows if int(each["month"]) in season and number(each["harvest_share"])]
    picked = [(float(each["harvest_share"]), float(each["price_index"])) for each in rows]
    return sum(share * index for share, index in picked) / sum(share for share, _ in picked)


def margins(margin, farm, figures, laid_out):
    """Return the gross margin by m2, m3, day of work, reservoir unit, and for 100 laid out; None where by nothing."""
    hours = (figures["family_hours"] + figures["hired_hours"]) / farm.book.get("hours_per_day", 8)
    by = lambda size: margin / size if size else None  # noqa: E731
    return {
        "gross_margin_per_m2": margin / farm.folder.area,
        "gross_margin_per_m3": by(figures["water_m3"]),
        "gross_margin_per_day": by(hours),
        "gross_margin_per_unit": by(farm.units),
        "gross_margin_per_100": by(laid_out / 100),
    }


def per_family_day(farm, even_sum, family_hours):
    """Return what a day of family work earns after all else: the even yearly sum with the family's wages put back."""
    if not family_hours:
        return None
    return (even_sum + family_hours * farm.book.find("family_wage_per_hour")) / (
        family_hours / farm.book.get("hours_per_day", 8)
    )


def borne(farm, line):
    """Return what part of a line a household bears: of what is shared its own, contingencies on capital with it."""
    get = lambda name, default: farm.book.get(name, default, farm.system)  # noqa: E731
    part = (1 - get("other_use_share", 0)) / get("households_sharing", 1) if line.get("shared") == "yes" else 1
    if line["group"] == "capital":
        part *= (1 + get("physical_contingency_share", 0)) * (1 + get("price_contingency_share", 0))
    return part
