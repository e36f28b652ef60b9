"""Dead plants and excluded plots, shown both ways."""

import math

import pandas as pd
import pytest
from numpy.testing import assert_allclose

from plotworth.field.arrangement import complete_blocks
from plotworth.field.compare import treatment_means
from plotworth.field.plots_in_doubt import (
    NO_DEATHS,
    Exclusion,
    dead_plants_both_ways,
    survivors_on_every_place,
    without_plots_both_ways,
)

CLOSE = 1e-9
LAYOUT = complete_blocks("treatment")


@pytest.fixture
def yields() -> pd.DataFrame:
    """Invented: three blocks, two treatments, 6 plants a plot; wick lost plants in two plots."""
    rows = [("1", "drip"), ("1", "wick"), ("2", "drip"), ("2", "wick"), ("3", "drip"), ("3", "wick")]
    table = pd.DataFrame(rows, columns=["block", "treatment"])
    return table.assign(
        plot=list("abcdef"),
        plants=6.0,
        plants_alive=[6.0, 4.0, 6.0, 6.0, 6.0, 3.0],
        yield_kg_per_m2=[3.0, 2.0, 3.6, 3.0, 3.3, 1.5],
    )


def _means(model) -> list[float]:
    return [mean.estimate for mean in treatment_means(model)]


def test_the_truth_lies_between_dead_plants_as_loss_and_as_missing(yields: pd.DataFrame) -> None:
    both = dead_plants_both_ways(yields, LAYOUT)
    # drip (3 + 3.6 + 3.3) / 3; wick (2 + 3 + 1.5) / 3, and with survivors (2 x 6/4 + 3 + 1.5 x 6/3) / 3
    assert_allclose(_means(both.lower), [3.3, 6.5 / 3], rtol=CLOSE)
    assert_allclose(_means(both.upper), [3.3, 3.0], rtol=CLOSE)
    assert both.plots == ("b", "f")
    assert both.reasons == ("2 of 6 plants died", "3 of 6 plants died")
    assert both.remark == ""


def test_a_plot_without_a_survivor_is_a_missing_plot_at_the_upper_bound(yields: pd.DataFrame) -> None:
    yields.loc[5, ["plants_alive", "yield_kg_per_m2"]] = 0.0
    both = dead_plants_both_ways(yields, LAYOUT)
    assert math.isnan(survivors_on_every_place(yields)[5])
    assert [model.matrices.observed.sum() for model in (both.lower, both.upper)] == [6, 5]


def test_without_deaths_both_bounds_are_one(yields: pd.DataFrame) -> None:
    both = dead_plants_both_ways(yields.assign(plants_alive=6.0), LAYOUT)
    assert both.remark == NO_DEATHS
    assert_allclose(_means(both.upper), _means(both.lower), rtol=CLOSE)


def test_plots_whose_plants_were_not_counted_stand_as_they_are_and_are_named(yields: pd.DataFrame) -> None:
    yields.loc[1, "plants_alive"] = math.nan
    both = dead_plants_both_ways(yields, LAYOUT)
    assert_allclose(_means(both.upper)[1], (2.0 + 3.0 + 3.0) / 3, rtol=CLOSE)
    assert "written down for b" in both.remark


def test_a_plot_without_a_yield_needs_no_count_of_plants(yields: pd.DataFrame) -> None:
    yields.loc[0, ["plants_alive", "yield_kg_per_m2"]] = math.nan
    assert dead_plants_both_ways(yields, LAYOUT).remark == ""


def test_a_plot_is_left_out_with_a_reason_and_both_results_stand(yields: pd.DataFrame) -> None:
    both = without_plots_both_ways(yields, LAYOUT, (Exclusion("f", "goats broke in on 3 May"),))
    assert [model.strata[0].degrees_of_freedom for model in (both.lower, both.upper)] == [2, 1]
    assert (both.plots, both.reasons) == (("f",), ("goats broke in on 3 May",))
    # block 3 holds drip alone then: wick - drip from blocks 1 and 2, ((2 - 3) + (3 - 3.6)) / 2
    found = _means(both.upper)
    assert_allclose(found[1] - found[0], -0.8, rtol=CLOSE)


def test_exclusions_without_a_reason_or_a_plot_are_refused_together(yields: pd.DataFrame) -> None:
    exclusions = (Exclusion("a", " "), Exclusion("z", "flooded"), Exclusion("b", "x"), Exclusion("b", "y"))
    with pytest.raises(ValueError) as caught:
        without_plots_both_ways(yields, LAYOUT, exclusions)
    assert str(caught.value) == "a: a reason is needed; z: no such plot; b: named twice"
