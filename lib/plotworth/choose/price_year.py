"""One price basis: a case counts in constant prices of one year, and prices of another are refused."""

from plotworth.case.folder import BOOK_FILE, Case
from plotworth.choose.planned import COSTS_FILE
from plotworth.ground.errors import Fault


def price_year_faults(case: Case) -> list[Fault]:
    """Return a fault for every price of another year than the case's: constant prices are of one year."""
    year = case.settings.price_year
    lines = [(COSTS_FILE, line.line, line.item, line.price_year) for line in case.costs]
    rows = [(BOOK_FILE, row.line, row.name, row.price_year) for row in case.book.rows]
    return [
        Fault(file, line, name, str(stated), f"the case counts in constant prices of {year}", _remedy(stated, year))
        for file, line, name, stated in (*lines, *rows)
        if stated is not None and stated != year
    ]


def _remedy(stated: int, year: int) -> str:
    return f"bring the price from {stated} to {year} by the rise of prices between, and write price_year {year}"
