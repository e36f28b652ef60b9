"""The table of correlations: what is refused, with its line and remedy, and what is drawn together."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from plotworth.choose.correlations import clusters, score_correlation
from plotworth.ground.errors import FaultsError
from risk_cases import CORRELATIONS, TYPED, laid_out

HEADER = "address_a,address_b,rank_correlation,reason\n"


def refused(tmp_path, *lines: str) -> list[str]:
    with pytest.raises(FaultsError) as caught:
        laid_out(tmp_path, TYPED, **{"correlations.csv": HEADER + "".join(f"{line}\n" for line in lines)})
    return [fault.text() for fault in caught.value.faults]


def test_all_faults_are_named_with_their_lines(tmp_path) -> None:
    told = refused(
        tmp_path,
        "planted_shore,commission_share,0.5,invented",
        "planted_share,discount_rate,0.5,invented",
        "planted_share,market_price_per_kg/hand/pepper,0.5,invented",
        "planted_share,planted_share,0.5,invented",
        "planted_share,commission_share,0.5,invented",
        "commission_share,planted_share,0.4,invented",
        "cost/all/seed/unit_price,planted_share,0.4,invented",
    )
    text = "\n".join(told)
    assert "line 2" in told[0]
    assert "did you mean planted_share" in told[0]
    assert "a choice is never drawn" in text
    assert "once a case and the other once a year" in text
    assert "correlated with itself" in text
    assert "line 6 states the same pair" in text
    assert "no range to be drawn from" in text


def test_correlations_out_of_bounds_are_refused(tmp_path) -> None:
    assert "0.99" in refused(tmp_path, "planted_share,commission_share,1,invented")[0]


def test_correlations_that_cannot_be_together_are_refused(tmp_path) -> None:
    (told,) = refused(
        tmp_path,
        "planted_share,commission_share,0.9,invented",
        "planted_share,first_year_share,0.9,invented",
        "commission_share,first_year_share,-0.9,invented",
    )
    assert "lines 2, 3, 4" in told
    assert "first_year_share" in told


def test_rows_that_hang_together_form_a_cluster(tmp_path) -> None:
    layout = laid_out(tmp_path, TYPED, **{"correlations.csv": CORRELATIONS})
    drawn = [*layout.inputs]
    first, second = clusters(layout.case, drawn)
    assert first.addresses == ("planted_share", "commission_share")
    assert_allclose(first.factor @ first.factor.T, [[1, 2 * np.sin(np.pi / 10)], [2 * np.sin(np.pi / 10), 1]])
    assert second.addresses == ("yield_kg_per_m2/tank/pepper", "market_price_per_kg/tank/pepper")
    assert clusters(layout.case, ["planted_share"]) == ()


def test_the_score_correlation_of_a_half_is_just_above_it() -> None:
    # 2 sin(15 degrees) = (sqrt 6 - sqrt 2) / 2
    assert_allclose(score_correlation(0.5), (6**0.5 - 2**0.5) / 2)
