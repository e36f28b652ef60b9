"""The partial budget of a case: worked by hand, against the composition, and a published table through a case."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from folders import DEMO, run
from plain_case import plain_case
from plotworth.case.folder import Case, open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.budget_moves import moved_budgets
from plotworth.choose.budget_rows import net_benefit_rows
from plotworth.choose.budget_table import budget_sentences, budget_tables
from plotworth.choose.evaluate import run_systems
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.treatment_budget import CARRYING, FIELD_WORK, TreatmentBudget, treatment_budgets
from plotworth.ground.conversions import KG_PER_T, M2_PER_HA
from plotworth.report.budget_exchange import budget_data
from plotworth.report.page import WIDTH
from plotworth.show import budget_captions as captions
from plotworth.show import budget_charts as charts
from test_budget import POTATO_ADJUSTMENT_SHARE, POTATO_PRICE_PER_T, column, words
from trial_case import trial_case

TIGHT = 1e-12
TANK_YEARLY = 30 * 0.1 / (1 - 1.1**-2)  # 3 pieces at XTS 10 for two years at 10 %: 17.2857 a year

Book = Mapping[str, float | str | None]


def budgets(case: Case) -> tuple[Appraisal, tuple[TreatmentBudget, ...]]:
    appraisal = appraise(case)
    return appraisal, treatment_budgets(appraisal.layout, appraisal.values)


def budget(folder: Path, *, book: Book | None = None, **options: Any) -> TreatmentBudget:
    return budgets(plain_case(folder, book=book, **options))[1][0]


# --- by hand ---------------------------------------------------------------------------------------


def test_the_plain_case_by_hand(tmp_path: Path) -> None:
    """100 m2: tank 3 kg x 0.5 = 1.5, hand 2 x 0.5 = 1.0 a m2; the tank alone costs 17.2857 / 100; seed drops out."""
    found = budget(tmp_path)
    assert found.labels == ("Tank", "Hand")
    assert set(found.varying) == {"tank"}
    assert_allclose(found.varying["tank"], [TANK_YEARLY / 100, 0.0], rtol=TIGHT)
    assert found.common == pytest.approx({"seed": 0.1}, rel=TIGHT)
    assert_allclose(found.net_benefits, [1.5 - TANK_YEARLY / 100, 1.0], rtol=TIGHT)
    rate = (0.5 - TANK_YEARLY / 100) / (TANK_YEARLY / 100)  # 189 %: 0.3271 for 0.1729
    assert_allclose(found.analysis.rate, [rate, np.nan], rtol=TIGHT)
    assert (found.minimum_return, found.is_minimum_stated, found.recommended) == (1.0, False, 0)
    assert_allclose(found.residuals, [1.5 - 2 * TANK_YEARLY / 100, 1.0], rtol=TIGHT)
    (pair,) = found.neighbours
    # cost and as much again, at 0.5 a kg: 0.1729 x 2 / 0.5 = 0.691 kg/m2; 1 kg/m2 is there
    assert_allclose(pair.required_kg_per_m2, 4 * TANK_YEARLY / 100, rtol=TIGHT)
    assert_allclose(pair.measured_kg_per_m2, 1.0, rtol=TIGHT)


def test_a_minimum_above_the_rate_turns_the_recommendation(tmp_path: Path) -> None:
    found = budget(tmp_path, book={"minimum_return_share": 2.0})  # above 189 %
    assert (found.is_minimum_stated, found.recommended) == (True, 1)


def test_yields_are_adjusted_and_costs_by_the_kilogram_lower_the_field_price(tmp_path: Path) -> None:
    """Adjusted: 3 x 0.8 trial to farm x (1 - 0.25 lost) x (1 - 0.1 failed) = 1.62; price 0.5 - 0.1 - 0.04 = 0.36."""
    book = {
        "trial_to_farm_share": 0.8,
        "postharvest_loss_share": 0.25,
        "failed_season_chance": 0.1,
        "packing_cost_per_kg": 0.1,
    }
    found = budget(tmp_path, book=book, costs=(",,crates,seasonal,kg_sold,1,0.04,,,",))
    tank = found.columns[0]
    assert_allclose(tank.yield_kg_per_m2, 3.0, rtol=TIGHT)
    assert_allclose(tank.adjusted_yield_kg_per_m2, 1.62, rtol=TIGHT)
    assert_allclose(tank.field_price_per_kg, 0.36, rtol=TIGHT)
    assert_allclose(tank.gross_benefit, 1.62 * 0.36, rtol=TIGHT)
    assert (found.varying, found.common) == ({}, {})
    # at the same cost the better treatment stands: 2 kg/m2 of the hand are worth less
    assert_array_equal(found.analysis.is_dominated, [False, True])


def test_work_and_carried_water_stand_under_their_names(tmp_path: Path) -> None:
    """10 h of field work on 100 m2 at 2 = 0.2; 20 l/m2 = 2 m3 at 5 h, half by the family: 10 h at 2 and 3 = 0.25."""
    book = {
        "family_wage_per_hour": 2.0,
        "hired_wage_per_hour": 3.0,
        "carrying_h_per_m3/tank": 5.0,
        "carrying_family_share/tank": 0.5,
        "water_applied_l_per_m2/tank/pepper": 20.0,
    }
    found = budget(tmp_path, book=book, labour=("tank,dry,weeding,,,10,1,no",))
    assert_allclose(found.varying[FIELD_WORK], [0.2, 0.0], rtol=TIGHT)
    assert_allclose(found.varying[CARRYING], [0.25, 0.0], rtol=TIGHT)


def test_yields_of_the_trial_are_the_means_of_its_plots(tmp_path: Path) -> None:
    """Tank plots 3 and 5, hand plots 2 and 4 kg/m2, as `trial_case` says: means 4 and 3."""
    appraisal, (found, *_) = budgets(trial_case(tmp_path))
    assert [one.is_measured for one in found.columns] == [True, True]
    assert_allclose([one.yield_kg_per_m2 for one in found.columns], [4.0, 3.0], rtol=TIGHT)
    sentences = budget_sentences("XTS", found, moved_budgets(appraisal.layout, appraisal.values, found))
    assert "Yield measured by the trial: Tank, Hand." in sentences


def test_a_system_alone_in_its_season_is_said_to_be_alone(tmp_path: Path) -> None:
    seasons = ("tank,dry,pepper,2,5,1", "tank,wet,pepper,8,4,1", "hand,dry,pepper,2,5,1")
    _, found = budgets(plain_case(tmp_path, seasons=seasons))
    alone = found[1]
    assert (alone.season, alone.labels, alone.varying, alone.neighbours) == ("wet", ("Tank",), {}, ())
    assert any("nothing to set it against" in sentence for sentence in budget_sentences("XTS", alone))
    assert len(budget_tables("XTS", alone)) == 1
    # two seasons of 100 m2 share the tank's year
    assert_allclose(found[0].varying["tank"], [TANK_YEARLY / 200, 0.0], rtol=TIGHT)


def test_an_unknown_yield_is_passed_over_and_named(tmp_path: Path) -> None:
    found = budget(tmp_path, book={"yield_kg_per_m2/hand/pepper": "unknown"})
    assert found.recommended == 0
    assert "Not known, and passed over: Hand." in budget_sentences("XTS", found)
    assert [row["label"] for row in net_benefit_rows(found)] == ["Tank"]


SHARED_COSTS = """\
system,season,item,group,basis,quantity,unit_price,life_years,shared,source,grade
tank,,tank,capital,scheme,3,10,2,no,invented,D
tank,,stand,capital,scheme,1,40,4,yes,invented,D
tank,,upkeep,yearly,scheme,1,12,,yes,invented,D
,,seed,seasonal,m2,1,0.1,,no,invented,D
,,crates,seasonal,kg_sold,1,0.04,,no,invented,D
"""

# --- against the composition -----------------------------------------------------------------------


def test_with_whole_lives_in_the_horizon_a_budget_and_npv_are_the_same_money(tmp_path: Path) -> None:
    """Life 2, horizon 4, nothing else over time: equivalent annual value = 100 m2 x (net benefit - common).

    The tank's capital with its contingency, its shared yearly line, seasons that fail, two prices of the kilogram.
    """
    book = {
        "physical_contingency_share/tank": 0.2,
        "households_sharing/tank": 3.0,
        "failed_season_chance": 0.1,
        "second_grade_share/tank/pepper": 0.3,
        "second_grade_price_share/tank/pepper": 0.6,
    }
    appraisal, (found, *_) = budgets(plain_case(tmp_path, book=book, files={"costs.csv": SHARED_COSTS}))
    for place, column_ in enumerate(found.columns):
        yearly = column_.planted_m2 * (found.net_benefits[place] - sum(found.common.values()))
        assert_allclose(appraisal.systems[column_.system]["equivalent_annual_value"], yearly, rtol=1e-9)


def test_costs_of_the_demo_come_to_those_of_the_composition() -> None:
    """Over all seasons: seasonal lines, work and energy as in a full year; yearly lines and capital as annuities."""
    appraisal, found = budgets(open_case(DEMO))
    structure, values = appraisal.layout.structure, appraisal.values
    rate = appraisal.layout.inputs["discount_rate"].value
    for name, system in run_systems(structure, values, expected_shocks(structure, values)).items():
        own = [column_ for one in found for column_ in one.columns if column_.system == name]
        paid = sum(column_.planted_m2 * sum(column_.costs.values()) for column_ in own)
        yearly = sum(
            float(amount[0, 0]) * rate / (1 - (1 + rate) ** -life) for life, amount in system.amounts.capital.items()
        )
        assert_allclose(paid, float(system.amounts.steady[0, 0]) + yearly, rtol=1e-9)


# --- published -------------------------------------------------------------------------------------

POTATO_HEAD = """\
title = "Potato"
question = "Which rates of phosphorus and potassium pay?"
currency = "ETB"
price_year = 2021
as_of = 2021-01-01
area_m2 = 10000.0
horizon_years = 1
today = "t0"
baseline = "t0"
invented = false
[place]
name = "From the paper"
"""
POTATO_SYSTEM = '[[systems]]\nid = "t{place}"\nlabel = "{label}"\nwater_method = "hand"\n'


def potato_case(folder: Path, *, yields_t_per_ha: np.ndarray, trial_to_farm_share: float) -> Case:
    """Return the published table as a case of twelve typed systems, fertiliser and its spreading as one line a m2."""
    names = words("potato", "treatment")
    book = ["name,system,crop,season,value,unit,source", "discount_rate,,,,0,share/year,paper"]
    book += [f"market_price_per_kg,,potato,,{POTATO_PRICE_PER_T / KG_PER_T!r},ETB/kg,paper"]
    book += [f"trial_to_farm_share,,,,{trial_to_farm_share},share,paper"]
    per_m2 = [float(one) * KG_PER_T / M2_PER_HA for one in yields_t_per_ha]
    book += [f"yield_kg_per_m2,t{k},potato,,{value!r},kg/m2,paper" for k, value in enumerate(per_m2)]
    costs = ["system,season,item,group,basis,quantity,unit_price,life_years,source,grade"]
    lines = enumerate(column("potato", "varying_costs"))
    costs += [f"t{k},,fertiliser,seasonal,m2,1,{float(cost) / M2_PER_HA!r},,paper,B" for k, cost in lines]
    seasons = ["system,season,crop,first_month,months,share_of_area", *(f"t{k},main,potato,6,4,1" for k in range(12))]
    systems = "".join(POTATO_SYSTEM.format(place=k, label=name) for k, name in enumerate(names))
    files = {"assumptions.csv": book, "costs.csv": costs, "seasons.csv": seasons}
    for file, rows in files.items():
        (folder / file).write_text("\n".join([*rows, ""]), encoding="utf-8")
    (folder / "case.toml").write_text(POTATO_HEAD + systems, encoding="utf-8")
    return open_case(folder)


@pytest.mark.published
def test_the_potato_table_comes_out_of_a_case(tmp_path: Path) -> None:
    """Gross benefits of the paper are those of its adjusted yields as printed, so these are typed in."""
    case = potato_case(tmp_path, yields_t_per_ha=column("potato", "adjusted_yield"), trial_to_farm_share=1.0)
    found = budgets(case)[1][0]
    gross = np.array([one.gross_benefit for one in found.columns])
    assert_allclose(gross * M2_PER_HA, column("potato", "gross_benefit"), rtol=1e-9)
    assert_allclose(found.varying_costs * M2_PER_HA, column("potato", "varying_costs"), rtol=1e-9)
    assert_allclose(found.net_benefits * M2_PER_HA, column("potato", "net_benefit"), rtol=1e-9)
    assert_array_equal(found.analysis.is_dominated, [word == "yes" for word in words("potato", "dominated")])
    assert_array_equal(np.round(100 * found.analysis.rate), column("potato", "rate_percent"))
    assert found.labels[found.recommended] == "34.5:200"  # its last rate, 4290 %, is far above 100 %


@pytest.mark.published
def test_the_yields_of_the_potato_trial_are_adjusted_as_in_the_paper(tmp_path: Path) -> None:
    share = 1.0 - POTATO_ADJUSTMENT_SHARE
    case = potato_case(tmp_path, yields_t_per_ha=column("potato", "trial_yield"), trial_to_farm_share=share)
    adjusted = [one.adjusted_yield_kg_per_m2 for one in budgets(case)[1][0].columns]
    half_a_digit = 0.005 + 1e-9  # adjusted yields are printed to 0.01 t/ha
    in_tonnes = np.array(adjusted) * M2_PER_HA / KG_PER_T
    assert_allclose(in_tonnes, column("potato", "adjusted_yield"), rtol=0, atol=half_a_digit)


# --- what changes no rate ----------------------------------------------------------------------------


def test_a_cost_of_every_treatment_changes_no_rate(tmp_path: Path) -> None:
    lines = ("tank,,tank,capital,scheme,3,10,2,,", ",,seed,seasonal,m2,1,0.1,,,")
    plain = budget(tmp_path / "a")
    dearer = budget(tmp_path / "b", costs=(*lines, ",,fence,yearly,scheme,1,7,,,"))
    assert set(dearer.common) == {"seed", "fence"}
    assert_array_equal(dearer.analysis.rate, plain.analysis.rate)
    assert_array_equal(dearer.net_benefits, plain.net_benefits)


def test_another_currency_changes_no_rate(tmp_path: Path) -> None:
    money = 7.0
    plain = budget(tmp_path / "a")
    lines = ("tank,,tank,capital,scheme,3,70,2,,", ",,seed,seasonal,m2,1,0.7,,,")
    other = budget(tmp_path / "b", book={"market_price_per_kg/all/pepper": 0.5 * money}, costs=lines)
    assert_allclose(other.analysis.rate, plain.analysis.rate, rtol=TIGHT)
    assert_allclose(other.net_benefits, plain.net_benefits * money, rtol=TIGHT)
    assert_allclose(other.neighbours[0].required_kg_per_m2, plain.neighbours[0].required_kg_per_m2, rtol=TIGHT)


def test_a_yield_that_is_just_required_earns_just_the_minimum(tmp_path: Path) -> None:
    required = budget(tmp_path / "a").neighbours[0].required_kg_per_m2
    just = budget(tmp_path / "b", book={"yield_kg_per_m2/tank/pepper": 2.0 + required})
    assert_allclose(just.analysis.rate[0], 1.0, rtol=1e-9)


# --- interval ends, tables, page, JSON, chart --------------------------------------------------------

RANGED = """\
name,system,crop,season,value,low,high,unit,source
discount_rate,,,,0.1,,,share/year,invented
yield_kg_per_m2,tank,pepper,,3,2.2,4,kg/m2,invented
yield_kg_per_m2,hand,pepper,,2,,,kg/m2,invented
market_price_per_kg,,pepper,,0.5,0.25,1,XTS/kg,invented
"""


def test_prices_and_yields_are_set_to_the_ends_of_their_intervals(tmp_path: Path) -> None:
    appraisal, (found, *_) = budgets(plain_case(tmp_path, files={"assumptions.csv": RANGED}))
    moved = moved_budgets(appraisal.layout, appraisal.values, found)
    assert [(one.quantity, one.end, one.budget is None) for one in moved] == [
        ("price", "low", False),
        ("price", "high", False),
        ("tank", "low", False),
        ("tank", "high", False),
        ("hand", "low", True),
        ("hand", "high", True),
    ]
    low_price, low_yield = moved[0].budget, moved[2].budget
    assert low_price is not None
    assert low_yield is not None
    assert_allclose(low_price.net_benefits, [0.75 - TANK_YEARLY / 100, 0.5], rtol=TIGHT)
    assert_allclose(low_yield.net_benefits, [1.1 - TANK_YEARLY / 100, 1.0], rtol=TIGHT)
    # 0.25 and 0.1 more for 0.1729: below 100 %, so the hand is recommended
    assert (low_price.recommended, low_yield.recommended) == (1, 1)
    sentences = budget_sentences("XTS", found, moved)
    assert "Price, low: the recommended treatment is Hand instead of Tank." in sentences
    assert "Yield of Tank, low: the recommended treatment is Hand instead of Tank." in sentences
    table = budget_tables("XTS", found, moved)[-1]
    assert [row.label for row in table.rows] == [
        "Price, low",
        "Price, high",
        "Yield of Tank, low",
        "Yield of Tank, high",
    ]


def test_the_command_prints_a_page_that_fits_and_a_json_without_nan() -> None:
    ran = run("budget", str(DEMO))
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= WIDTH
    for words_ in ("INVENTED DATA", "SWEET PEPPER, WARM DRY", "dominated", "lowest acceptable return", "farm gate"):
        assert words_ in ran.out
    data = json.loads(run("budget", str(DEMO), "--json").out)
    assert data == json.loads(json.dumps(budget_data(appraise(open_case(DEMO))), allow_nan=False))
    first = data["budgets"][0]
    for one in first["treatments"]:
        assert_allclose(one["costs_that_vary"], sum(one["varying_costs"].values()), rtol=1e-9)
        assert_allclose(one["net_benefit"], one["gross_field_benefit"] - one["costs_that_vary"], rtol=1e-9)


def test_the_chart_joins_undominated_treatments_and_its_words_say_every_number(tmp_path: Path) -> None:
    found = budget(tmp_path, book={"yield_kg_per_m2/tank/pepper": 2.0})  # no more yield at more cost
    rows = net_benefit_rows(found)
    data = charts.curve_data(rows)
    assert [row["label"] for row in data["budget_curve"]] == ["Hand"]
    assert [row["text"] for row in data["budget_words"]] == ["Tank\n(dominated)", "Hand\n(recommended)"]
    spec = charts.curve_chart({"tank": "Tank", "hand": "Hand"}, currency="XTS").to_dict()
    assert {layer["data"]["name"] for layer in spec["layer"]} == set(data)
    assert captions.curve_title(rows).startswith("Hand pays best for what it costs; 1 of 2 (hollow)")
    assert "Tank: costs XTS\u00a00.173, net benefit XTS\u00a00.827, dominated." in captions.curve_text(rows, "XTS")


def test_of_many_treatments_the_dominated_ones_are_named_in_the_table_alone(tmp_path: Path) -> None:
    case = potato_case(tmp_path, yields_t_per_ha=column("potato", "adjusted_yield"), trial_to_farm_share=1.0)
    data = charts.curve_data(net_benefit_rows(budgets(case)[1][0]))
    assert len(data["budget"]) == 12
    assert {row["label"] for row in data["budget_words"]} == {"0:0", "69:0", "34.5:100", "34.5:200"}
