"""Cash by month against a second one in plain Python, on the demo and on changed copies of it without weather."""

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

import independent_cash
import independent_views
from independent import Folder
from independent_cases import assume, copy_demo, rewrite, set_cells
from plotworth.case.folder import open_case
from plotworth.choose.cash_months import cash_by_month
from plotworth.choose.cash_summary import cash_summaries
from plotworth.choose.inputs import lay_out
from plotworth.choose.labour_months import hours_of
from plotworth.choose.loan_flows import GRANT_IN, INTEREST, LOAN_IN, PRINCIPAL

PRICES = """month,crop,price_index,harvest_share
4,sweet pepper,1.1,0.4
5,sweet pepper,0.8,0.45
6,sweet pepper,0.9,0.15
10,zucchini,1.3,0.2
11,zucchini,0.9,0.5
12,zucchini,1.05,0.3
"""


def as_it_is(_case: Path) -> None:
    """The demo."""


def priced_by_month(case: Path) -> None:
    """Prices by month, a price that falls with volume and packing."""
    (case / "prices.csv").write_text(PRICES, encoding="utf-8")
    assume(case, "price_fall_share_per_t", "0.02", "share/t")
    assume(case, "packing_cost_per_kg", "0.03", "XTS/kg")


def dear_energy_and_odd_months(case: Path) -> None:
    """A pump that is paid for, lines and tasks in other months."""
    assume(case, "energy_price_per_kwh", "0.4", "XTS/kWh", system="drip")
    set_cells(case, "costs", "month", "7", item="crates and bags")
    set_cells(case, "costs", "month", "3", item="pump upkeep")
    set_cells(case, "labour_plan", "month", "", task="clearing")


def other_loans(case: Path) -> None:
    """Loans of the other kinds, of amounts and with interest added in the grace."""
    path = case / "case.toml"
    text = path.read_text(encoding="utf-8")
    head = text[: text.index("[[loans]]")]
    loans = (
        ("hand", "amount = 150.0", "flat", 12, 0, "false"),
        ("reservoir", "amount_share_of_investment = 0.5", "equal_principal", 2, 12, "true"),
        ("drip", "amount_share_of_investment = 1.0", "annuity", 4, 9, "true"),
    )
    for system, amount, kind, payments, grace, added in loans:
        head += (
            f'[[loans]]\nsystem = "{system}"\nlabel = "a"\n{amount}\nrate_per_year = 0.2\nyears = 5\nkind = "{kind}"\n'
        )
        head += f"payments_per_year = {payments}\ngrace_months = {grace}\ncapitalise_grace_interest = {added}\n"
    path.write_text(head, encoding="utf-8")


@pytest.mark.parametrize("change", [as_it_is, priced_by_month, dear_energy_and_odd_months, other_loans])
def test_every_month_agrees_with_the_second_one(tmp_path: Path, change: Callable[[Path], None]) -> None:
    case = copy_demo(tmp_path)
    (case / "weather.csv").unlink()
    change(case)
    second = independent_cash.cash_of(case)
    layout = lay_out(open_case(case))
    for name, one in cash_by_month(layout, layout.values).systems.items():
        own = second[name]
        assert_allclose(one.before[:, 0, 0], own["before"], rtol=1e-9, atol=1e-9)
        loans = sum(one.financing[kind] for kind in (LOAN_IN, INTEREST, PRINCIPAL))
        assert_allclose(loans[:, 0, 0], own["loans"], rtol=1e-9, atol=1e-9)
        assert_allclose(one.financing[GRANT_IN][0, 0, 0], own["grant"], rtol=1e-9)
        family, hired = hours_of(one.tasks)
        assert_allclose(family[:, 0, 0], own["family"], rtol=1e-9, atol=1e-9)
        assert_allclose(hired[:, 0, 0], own["hired"], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("change", [as_it_is, other_loans])
def test_worth_after_financing_agrees_with_the_second_one(tmp_path: Path, change: Callable[[Path], None]) -> None:
    """NPV in hand + grant + each payment of the loans discounted from its own month; the grant that breaks even."""
    case = copy_demo(tmp_path)
    (case / "weather.csv").unlink()
    change(case)
    folder, second = Folder(case), independent_cash.cash_of(case)
    in_hand = independent_views.three_views(folder)[independent_views.CASH]["systems"]
    layout = lay_out(open_case(case))
    for name, one in cash_summaries(cash_by_month(layout, layout.values)).items():
        own, npv = second[name], in_hand[name]["npv"]
        loans = sum(money / (1 + folder.rate) ** (month / 12) for month, money in enumerate(own["loans"]))
        assert_allclose(one.npv_cash_after[0, 0], npv + own["grant"] + loans, rtol=1e-9)
        share = -(npv + loans) / -own["before"][0]
        expected = max(share, 0.0) if share <= 1 else math.nan
        assert_allclose(one.break_even_grant_share[0, 0], expected, rtol=1e-9)


def test_a_cash_flow_that_is_put_a_month_late_is_found(tmp_path: Path) -> None:
    case = copy_demo(tmp_path)
    (case / "weather.csv").unlink()
    layout = lay_out(open_case(case))
    one = cash_by_month(layout, layout.values).systems["drip"]
    rewrite(case, "labour_plan", lambda rows: [{**row, "month": row["month"] and "6"} for row in rows])
    with pytest.raises(AssertionError):
        assert_allclose(one.before[:, 0, 0], independent_cash.cash_of(case)["drip"]["before"], rtol=1e-9, atol=1e-9)
