"""One price year, and quotes with an end: prices of another year are refused with a remedy, old quotes asked about."""

import pytest

from independent_cases import add_column, copy_demo, set_cells
from plotworth.case.folder import open_case
from plotworth.choose.appraise import appraise
from plotworth.choose.guard import flags
from plotworth.choose.inputs import lay_out
from plotworth.ground.errors import FaultsError


@pytest.fixture
def case(tmp_path):
    return copy_demo(tmp_path)


def test_a_price_of_another_year_is_refused_with_its_line_and_what_to_write(case):
    set_cells(case, "costs", "price_year", "2021", item="fence")
    set_cells(case, "assumptions", "price_year", "2024", name="transport_cost_per_kg")
    with pytest.raises(FaultsError) as caught:
        lay_out(open_case(case))
    found = {fault.name: fault for fault in caught.value.faults}
    assert set(found) == {"fence", "transport_cost_per_kg"}
    assert found["fence"].rule == "the case counts in constant prices of 2026"
    assert found["fence"].remedy.startswith("bring the price from 2021 to 2026")
    assert all(fault.line > 1 for fault in found.values())


def test_prices_of_the_year_of_the_case_or_of_no_year_are_let_pass(case):
    set_cells(case, "costs", "price_year", "", item="fence")
    assert lay_out(open_case(case))


def test_a_quote_that_ran_out_is_asked_about_and_changes_no_number(case):
    """The demo is judged at 2026-09-30: a quote until 31 August is 30 days over, one until that day still holds."""
    before = appraise(open_case(case))
    add_column(case, "costs", "valid_until")
    set_cells(case, "costs", "valid_until", "2026-08-31", item="fence")
    set_cells(case, "costs", "valid_until", "2026-09-30", item="hand tools")
    after = appraise(open_case(case))
    (flag,) = [one for one in flags(after) if one.what == "quote_valid_until_days"]
    assert flag.value == 30
    assert "fence (costs.csv line" in flag.sentence
    assert "held until 2026-08-31" in flag.sentence
    assert after.systems["drip"]["npv"] == before.systems["drip"]["npv"]
