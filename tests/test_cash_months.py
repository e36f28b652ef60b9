"""Cash by month: on a case worked by hand, and its months against the composition's years on random values."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from cash_cases import GRANT, LABOUR, LOAN, WAGES, changed_to, moved, with_tables
from folders import DEMO
from plain_case import SEASONS, plain_case
from plotworth.case.folder import Case, open_case
from plotworth.choose.cash_months import (
    HIRED,
    LINES,
    REPLACEMENT,
    SALES,
    SELLING,
    UPKEEP,
    WATER,
    CaseCash,
    CashMonths,
    cash_by_month,
)
from plotworth.choose.evaluate import flows_by_year
from plotworth.choose.inputs import expected_shocks, lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.loan_flows import FINANCING, INTEREST, LOAN_IN, PRINCIPAL
from plotworth.choose.views import CASH, in_view
from plotworth.choose.water_case import water_of_case
from plotworth.ground.arrays import Array
from plotworth.ground.errors import FaultsError
from plotworth.money.financing import years_of_months

PRICES = "month,crop,price_index,harvest_share\n4,pepper,0.8,0.5\n5,pepper,1.2,0.5\n"
few = settings(max_examples=25, deadline=None)


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


def cash_of(case: Case) -> CaseCash:
    layout = lay_out(case)
    return cash_by_month(layout, layout.values)


def numbers(array: Array) -> list[float]:
    return [float(number) for number in array[:, 0, 0]]


def tank(case: Case) -> CashMonths:
    return cash_of(case).systems["tank"]


# --- worked by hand --------------------------------------------------------------------------------


def test_the_plain_case_has_the_balances_worked_by_hand(tmp_path: Path) -> None:
    # 300 kg x 0.5 = 150 from February to June, late half: April 1/5, May 2/5, June 2/5; seed 10 in February; tank 30
    one = tank(plain_case(tmp_path))
    assert [one.calendar_month(month) for month in (1, 12, 13)] == [2, 1, 2]
    closing = numbers(one.closing(with_financing=True))
    assert_allclose(closing[:7], [-30, -40, -40, -10, 50, 110, 110], atol=1e-9)
    assert_allclose([closing[24], closing[48]], [-30 + 2 * 140 - 30, -60 + 4 * 140])  # bought again in month 24


def test_sales_by_month_are_the_price_of_each_month_and_come_to_the_year(tmp_path: Path) -> None:
    book = {"transport_cost_per_kg": 0.1}
    one = tank(plain_case(tmp_path, book=book, files={"prices.csv": PRICES}))
    sales = numbers(one.flows[SALES])
    assert_allclose(sales[3:5], [150 * (0.5 * 0.8 - 0.1), 150 * (0.5 * 1.2 - 0.1)])
    assert_allclose(sum(sales[1:13]), 300 * (0.5 - 0.1))


def test_a_typed_price_factor_keeps_the_year_and_the_shape_of_the_prices(tmp_path: Path) -> None:
    book = {"price_factor": 2.0}
    sales = numbers(tank(plain_case(tmp_path, book=book, files={"prices.csv": PRICES})).flows[SALES])
    assert_allclose(sales[3:5], [2 * 60, 2 * 90])


def test_sales_follow_the_picking_dates_of_the_trial(demo: Layout) -> None:
    # fruits picked by month from the plots of treatment drip, added up here from the demo's own records
    cash = cash_by_month(demo, demo.values).systems["drip"]
    plots, harvests = demo.case.table("plots"), demo.case.table("harvests")
    own = set(plots.loc[plots["treatment"] == "drip", "plot"])
    fruits = dict.fromkeys(range(1, 13), 0.0)
    for plot, date, count in zip(harvests["plot"], harvests["date"], harvests["marketable_fruits"], strict=True):
        if plot in own:
            fruits[int(date.month)] += float(count)
    share = cash.months.picked[0].shares[:, 0, 0]
    assert_allclose(share, [fruits[month] / sum(fruits.values()) for month in range(1, 13)])


def test_a_trial_picked_outside_the_season_says_nothing_of_its_months(tmp_path: Path) -> None:
    seasons = ("tank,dry,pepper,7,5,1", "hand,dry,pepper,7,5,1")
    files = {
        "plots.csv": "plot,treatment,crop,net_area_m2\nP1,tank,pepper,4\n",
        "harvests.csv": "date,plot,marketable_kg\n2026-04-01,P1,5\n",
    }
    case = plain_case(
        tmp_path, seasons=seasons, files=files, settings={'label = "Tank"': 'label = "Tank"\ntreatment = "tank"'}
    )
    cash = cash_of(case)
    assert "months outside it" in cash.notes[0]
    assert cash.first_month == 7


def test_cost_lines_fall_into_their_month_or_where_they_belong(tmp_path: Path) -> None:
    costs = (
        "tank,,stakes,seasonal,scheme,1,7,,,",
        "tank,,permit,yearly,scheme,1,24,,,",
        "tank,,water,seasonal,m3,1,0.5,,,",
        "tank,,crates,seasonal,kg_sold,1,0.1,,,",
        "tank,,guard,yearly,hour,6,,,,",
    )
    book = {**WAGES, "water_applied_l_per_m2": 100.0}
    flows = tank(plain_case(tmp_path, book=book, costs=costs)).flows
    assert_allclose(numbers(flows[LINES])[1:3], [-7, 0])  # no month: the first of the season, February
    assert_allclose(numbers(flows[UPKEEP])[1:13], [-2] * 12)
    assert_allclose(numbers(flows[WATER])[1:7], [-1, -1, -1, -1, -1, 0])  # 10 m3 evenly over five months, no weather
    assert_allclose(numbers(flows[SELLING])[1:6], [0, 0, -6, -12, -12])  # 300 kg, with the pickings
    assert_allclose(numbers(flows[HIRED])[1:13], [-6 * 0.3 / 12] * 12)


def test_hired_work_is_cash_in_its_month_and_family_work_is_not(tmp_path: Path) -> None:
    hired = numbers(tank(plain_case(tmp_path, book=WAGES, labour=LABOUR)).flows[HIRED])
    assert_allclose(hired[1:6], [-100 * 0.1 * 0.2 * 0.3, 0, -10 * 0.5 * 0.3, -30 * 0.5 * 0.3, 0])


def test_a_failed_season_and_a_year_of_learning_leave_less_in_their_months(tmp_path: Path) -> None:
    book = {"failed_season_chance": 0.1, "first_year_share": 0.5}
    sales = numbers(tank(plain_case(tmp_path, book=book)).flows[SALES])
    assert_allclose([sales[4], sales[16]], [60 * 0.9 * 0.5, 60 * 0.9])


def test_what_is_bought_again_is_paid_in_the_month_its_life_ends(tmp_path: Path) -> None:
    replaced = numbers(tank(plain_case(tmp_path)).flows[REPLACEMENT])
    assert [month for month, flow in enumerate(replaced) if flow] == [24]  # life 2 of 4 years, none at the end


@pytest.mark.parametrize(
    ("seasons", "setting", "first", "cut"),
    [
        (("tank,dry,pepper,11,5,1", "hand,dry,pepper,2,5,1"), "", 11, 0),  # from February on November to March is cut
        (SEASONS, "first_month = 5", 5, 2),
        (("tank,dry,pepper,9,2,1", "hand,dry,pepper,3,5,1"), "", 3, 0),
    ],
)
def test_the_first_month_is_one_that_cuts_no_season_where_there_is_one(
    tmp_path: Path, seasons: tuple[str, ...], setting: str, first: int, cut: int
) -> None:
    changes = {"invented = true": f"invented = true\n{setting}"}
    cash = cash_of(plain_case(tmp_path, seasons=seasons, settings=changes))
    assert cash.first_month == first
    assert sum("turn of the year" in note for note in cash.notes) == cut


# --- against the composition -----------------------------------------------------------------------


@few
@given(seed=st.integers(0, 10**6))
def test_the_months_of_every_system_come_to_its_years(demo: Layout, seed: int) -> None:
    cash = cash_by_month(demo, moved(demo, seed))
    assert_closes(cash)


@few
@given(seed=st.integers(0, 10**6))
def test_the_months_close_where_prices_differ_by_month_too(seed: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    book = {
        **WAGES,
        "water_applied_l_per_m2": 80.0,
        "eaten_share": 0.2,
        "commission_share": 0.1,
        "working_capital_share": 0.3,
    }
    case = plain_case(
        tmp_path_factory.mktemp("case"),
        book=book,
        labour=LABOUR,
        files={"prices.csv": PRICES},
        settings=with_tables(LOAN),
    )
    layout = lay_out(case)
    assert_closes(cash_by_month(layout, moved(layout, seed)))


def assert_closes(cash: CaseCash) -> None:
    """Hold years of months against the composition in the cash view, and against the full view by the identity."""
    structure, values = cash.layout.structure, cash.values
    shocks = expected_shocks(structure, values)
    full = flows_by_year(structure, values, shocks)
    in_cash = flows_by_year(structure, in_view(cash.layout, values, CASH), shocks)
    for name, one in cash.systems.items():
        years, system = years_of_months(one.before), one.months.year
        scale = np.abs(one.before).sum() * 1e-12  # of all money moved: what is left of adding
        work, wage = system.work, system.wages.family
        expected = full[name].copy()
        expected[0] += system.amounts.working_capital
        expected[-1] -= system.amounts.working_capital
        expected[1:] += sum(hours.family for hours in work.steady) * wage
        for season, weight, hours in zip(system.seasons, system.weights, work.harvest, strict=True):
            expected[1:] += weight * (hours.family * wage - season.eaten_value)
        assert_allclose(years, expected, rtol=0, atol=scale)
        assert_allclose(years[1:-1], in_cash[name][1:-1], rtol=0, atol=scale)


def test_draws_beside_each_other_are_as_each_alone(demo: Layout) -> None:
    address = next(at for at in demo.inputs if at.startswith("market_price_per_kg"))
    prices = [0.2, 0.7, 1.1]  # invented; no price moves the water, which follows the first draw
    together = cash_by_month(demo, {**demo.values, address: np.array([prices])}).systems["drip"].after
    for draw, price in enumerate(prices):
        alone = cash_by_month(demo, changed_to(demo.values, address, price)).systems["drip"].after
        assert_allclose(together[:, :, [draw]], np.broadcast_to(alone, (*alone.shape[:2], 1)), rtol=1e-12, atol=1e-12)


# --- financing -------------------------------------------------------------------------------------


def test_without_loans_and_grants_after_is_before(tmp_path: Path) -> None:
    one = tank(plain_case(tmp_path))
    assert_allclose(one.after, one.before, rtol=0, atol=0)
    assert all(not one.financing[kind].any() for kind in FINANCING)


def test_a_loan_comes_in_with_the_investment_and_is_repaid_in_full(tmp_path: Path) -> None:
    # 30 borrowed at 1 % a month over 12: 30 x 0.01 / (1 - 1.01^-12) = 2.66546 a month
    financing = tank(plain_case(tmp_path, settings=with_tables(LOAN))).financing
    assert numbers(financing[LOAN_IN])[:2] == [30, 0]
    paid = np.array(numbers(financing[INTEREST])) + numbers(financing[PRINCIPAL])
    assert_allclose(paid[1:13], [-30 * 0.01 / (1 - 1.01**-12)] * 12)
    assert_allclose(sum(numbers(financing[PRINCIPAL])), -30)
    assert not paid[13:].any()


def test_nominal_payments_are_deflated_at_their_own_months(tmp_path: Path) -> None:
    plain = tank(plain_case(tmp_path / "a", settings=with_tables(LOAN))).financing
    rising = tank(plain_case(tmp_path / "b", book={"inflation_rate": 0.1}, settings=with_tables(LOAN))).financing
    for month in (1, 12):
        level = 1.1 ** (month / 12)
        assert_allclose(rising[INTEREST][month] * level, plain[INTEREST][month])


def test_a_nominal_loan_without_a_rise_of_prices_in_the_book_is_noted(tmp_path: Path) -> None:
    assert any("inflation_rate" in note for note in cash_of(plain_case(tmp_path, settings=with_tables(LOAN))).notes)
    case = plain_case(tmp_path / "b", book={"inflation_rate": 0.1}, settings=with_tables(LOAN))
    assert not any("inflation_rate" in note for note in cash_of(case).notes)


def test_grants_above_the_investment_are_refused_by_name_and_line(tmp_path: Path) -> None:
    text = GRANT.replace("share_of_investment = 0.5", "amount = 31")
    layout = lay_out(plain_case(tmp_path, settings=with_tables(text)))
    with pytest.raises(FaultsError, match=r"case\.toml line \d+, fund: found '31'; the grants of tank are more"):
        cash_by_month(layout, layout.values)


def test_financing_moves_no_year_of_the_composition(demo: Layout) -> None:
    values = moved(demo, 1)
    moved_loans = {at: array * 0.5 if at.startswith(("loan/", "grant/")) else array for at, array in values.items()}
    assert values != moved_loans
    shocks = expected_shocks(demo.structure, values)
    for name, flows in flows_by_year(demo.structure, values, shocks).items():
        assert_allclose(flows_by_year(demo.structure, moved_loans, shocks)[name], flows, rtol=0, atol=0)


def test_equal_years_may_have_other_deepest_months(tmp_path: Path) -> None:
    """The same crop, cost and price, sown in February or in September: all years equal, the months are not."""
    seasons = ("tank,dry,pepper,2,5,1", "hand,wet,pepper,9,4,1")
    book = {"yield_kg_per_m2/hand/pepper": 3.0}
    costs = (",,tools,capital,scheme,1,30,4,,", ",,seed,seasonal,m2,1,0.1,,,")
    systems = cash_of(plain_case(tmp_path, book=book, costs=costs, seasons=seasons)).systems
    years = [years_of_months(one.before)[:, 0, 0] for one in systems.values()]
    assert_allclose(years[0], years[1])
    lows = [int(one.closing(with_financing=False).argmin()) for one in systems.values()]
    assert lows == [1, 8]  # seed is bought in February, month 1, or in September, month 8


def test_water_follows_the_visits_to_the_tank_with_its_first_fill(demo: Layout) -> None:
    cash = cash_by_month(demo, demo.values).systems["reservoir"]
    litres = dict.fromkeys(range(1, 13), 0.0)
    for year in water_of_case(demo, demo.values).seasons["reservoir/warm dry"].years:
        assert year.tank is not None
        litres[year.weather.dates[0].month] += float(year.tank.trace.start_l)
        for day, carried in zip(year.weather.dates, year.tank.trace.carried_l, strict=True):
            litres[day.month] += float(carried)
    shares = [litres[month] / sum(litres.values()) for month in range(1, 13)]
    assert_allclose(cash.months.watered[0].shares[:, 0, 0], shares)
    fees = -numbers(cash.flows[WATER])[1]  # February: only the warm dry season is watered then
    m3, fee = cash.months.year.seasons[0].water_m3[0, 0], demo.inputs["cost/reservoir/tap fee/unit_price"].value
    assert_allclose(fees, m3 * fee * shares[1])


def test_a_normal_year_is_one_in_which_everything_is_learnt(tmp_path: Path) -> None:
    book = {"first_year_share": 0.5, "second_year_share": 0.8, "failed_season_chance": 0.1}
    normal = tank(plain_case(tmp_path, book=book)).normal_year[:, 0, 0]
    assert_allclose(normal[:6], [-10, 0, 30 * 0.9, 60 * 0.9, 60 * 0.9, 0])  # no tank is bought in a normal year
