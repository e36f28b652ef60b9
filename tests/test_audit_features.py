"""The audit of features: seasons, growers, factors and inputs that go together. Tables are invented."""

import pandas as pd
import pytest

from audit_tables import audited, blocks_of, kinds, one
from field_tables import records
from plotworth.case.schema import FACTOR_PREFIX
from plotworth.field import features as rooms
from plotworth.field.arrangement import complete_blocks
from plotworth.field.features import factor_names, feature_grid, features
from plotworth.field.finding import REFUSES, listed


@pytest.mark.parametrize(
    ("column", "kind", "words"),
    [
        ("crop", "different crops", "grew different crops (tank: left; hand: right)"),
        ("site", "different sites", "stood at different sites (tank: left; hand: right)"),
        ("trial_year", "different seasons", "grew in different seasons (tank: left; hand: right)"),
        ("manager", "different managers", "were grown by different people (tank: left; hand: right)"),
    ],
)
def test_treatments_that_never_met_are_not_compared(column: str, kind: str, words: str) -> None:
    plots = blocks_of("tank", "hand")
    plots[column] = plots["treatment"].map({"tank": "left", "hand": "right"})
    finding = one(audited(plots), kind)
    assert finding.severity == REFUSES
    assert words in finding.sentence


def test_growers_who_each_grew_everything_are_no_flaw() -> None:
    plots = blocks_of("tank", "hand")
    assert audited(plots.assign(manager=plots["block"])) == ()


@pytest.mark.parametrize(("day", "kind"), [("2026-03-17", set()), ("2026-03-19", {"different seasons"})])
def test_plantings_more_than_45_days_apart_are_seasons(day: str, kind: set[str]) -> None:
    # from 1 February 2026: 17 March is 44 days later, 19 March 46
    plots = blocks_of("tank", "hand")
    plots["planted_on"] = pd.to_datetime(plots["treatment"].map({"tank": "2026-02-01", "hand": day}))
    assert kinds(audited(plots)) == kind


def test_factors_that_vary_together_are_named_with_a_minus_one_plot() -> None:
    plots = blocks_of("tank+fungus", "hand+none")
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    found = audited(plots, references={"present practice": "hand+none"}, compared=("tank+fungus",))
    aliased = one(found, "factors aliased")
    assert aliased.sentence.startswith("The factors water and inoculation vary together")
    assert aliased.cure == "Add a minus-one plot to every block: water tank with inoculation none."
    package = one(found, "package")
    assert (
        package.sentence == "tank+fungus and hand+none differ in water and inoculation: it is package against package."
    )
    assert package.cure == "Add a minus-one plot to every block: tank+fungus with the inoculation of hand+none."


def test_a_minus_one_plot_that_is_there_is_pointed_at() -> None:
    plots = blocks_of("tank+fungus", "tank+none", "hand+none")
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    found = audited(plots, references={"present practice": "hand+none"})
    assert one(found, "package").cure == "Compare tank+none with hand+none: they differ in water alone."
    # 3 of 2 x 2 combinations: each factor can be told, the interaction cannot
    assert "Of the 4 combinations of water and inoculation 3 were grown" in one(found, "combinations missing").sentence


def test_a_missing_control_is_named_by_what_it_stands_for() -> None:
    found = audited(blocks_of("tank", "hand"), references={"present practice": "hand", "the baseline": "drip"})
    finding = one(found, "missing control")
    assert finding.sentence.startswith("No plot measured the baseline (drip)")
    both = audited(blocks_of("tank", "hand"), references={"present practice": "", "the baseline": ""})
    assert one(both, "missing control").sentence.startswith("No plot measured present practice and the baseline, so")


def test_inputs_that_belong_to_a_factor_by_name_are_not_counted_again() -> None:
    plots = blocks_of("compost", "mineral")
    plots["factor_fertiliser"] = plots["treatment"]
    rows = [
        {
            "plot": p,
            "date": "2026-02-01",
            "item": t,
            "quantity": 1,
            "unit": "kg",
            "n_kg": 0.1 if t == "mineral" else 0.3,
        }
        for p, t in zip(plots["plot"], plots["treatment"], strict=True)
    ]
    found = features(plots, records("inputs", *rows))
    assert found.differing("compost", "mineral") == ("fertiliser",)
    # 0.1 and 0.3 kg on 2 m2
    assert list(feature_grid(found)["nutrients"]) == ["N 150, P2O5 0, K2O 0 g/m²", "N 50, P2O5 0, K2O 0 g/m²"]


def test_a_fungicide_is_no_inoculant_and_a_mulch_is_an_input() -> None:
    plots = blocks_of("tank", "hand")
    rows = [
        {"plot": p, "date": "2026-02-01", "item": "fungicide", "quantity": 1, "unit": "g"} for p in plots["plot"][::2]
    ]
    found = features(plots, records("inputs", *rows))
    assert found.differing("tank", "hand") == ("other inputs",)


@pytest.mark.parametrize(("given", "apart"), [(0.105, ()), (0.115, ("nutrients",))])
def test_nutrients_within_a_tenth_are_alike(given: float, apart: tuple[str, ...]) -> None:
    # 0.105 is 4.8 % above 0.1, measured from the larger; 0.115 is 13 %
    plots = blocks_of("tank", "hand")
    rows = [
        {
            "plot": p,
            "date": "2026-02-01",
            "item": "urea",
            "quantity": 1,
            "unit": "kg",
            "n_kg": given if t == "tank" else 0.1,
        }
        for p, t in zip(plots["plot"], plots["treatment"], strict=True)
    ]
    assert features(plots, records("inputs", *rows)).differing("tank", "hand") == apart


def test_a_cover_told_by_the_case_counts_as_a_feature() -> None:
    plots = blocks_of("tank", "hand").assign(factor_water=lambda t: t["treatment"])
    found = features(plots, described={"cover": {"tank": "net", "hand": "none"}})
    assert found.differing("tank", "hand") == ("water", "cover")


def test_factor_columns_are_those_of_the_case_and_of_the_arrangement() -> None:
    assert rooms.FACTOR_PREFIX == FACTOR_PREFIX
    plots = blocks_of("tank").assign(factor_water="tank", variety="a")
    assert factor_names(plots, complete_blocks("variety")) == ("variety", "factor_water")


def test_names_are_listed_as_people_do() -> None:
    assert [listed(names) for names in ((), ("a",), ("a", "b"), ("a", "b", "c"))] == ["", "a", "a and b", "a, b and c"]


def test_a_minus_one_plot_has_the_same_level_of_what_is_compared() -> None:
    plots = blocks_of("tank+fungus", "drip+none", "hand+none")
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    found = audited(plots, references={"present practice": "hand+none"}, compared=("tank+fungus",))
    assert one(found, "package").cure.startswith("Add a minus-one plot to every block: tank+fungus with")


def test_a_factor_of_three_levels_of_which_one_goes_with_another_factor_is_not_told() -> None:
    plots = blocks_of("tank+fungus", "drip+none", "hand+none")
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    assert one(audited(plots), "factors aliased").features == ("water", "inoculation")
