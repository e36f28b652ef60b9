"""Total order shares of a case: against shares from given draws, with correlated rows, without events."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.choose.drawn_sample import drawn_sample
from plotworth.choose.events import NO_EVENTS
from plotworth.choose.inputs import lay_out
from plotworth.choose.lines import OWN_WORTH
from plotworth.choose.total_shares import DRY_HOLES, SEASONS_THAT_FAIL, total_shares
from plotworth.choose.variance_shares import first_order_shares
from risk_cases import CORRELATIONS, TYPED, laid_out
from risk_cases import DRY_HOLES as WITH_HOLES

SIX = 6.0
YEARLY_LEVEL = 0.02
"""A yearly row's level stands for its years in given draws; what single years do with the harvest is not in it."""


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("small"))


def by_name(found):
    return {one.addresses[0]: one for one in found}


@pytest.mark.parametrize("reference", ["hand", OWN_WORTH])
def test_first_order_shares_agree_with_those_from_given_draws(small, reference) -> None:
    found = by_name(total_shares(small, small.values, "tank", reference, draws=4_096))
    sample = drawn_sample(small, small.values, draws=32_768)
    told = first_order_shares(sample.drawn, sample.difference("tank", reference))
    for address, first, error in zip(sample.addresses, told.first, told.error, strict=True):
        one = found[address]
        assert abs(one.first - first) < SIX * np.hypot(one.first_error, error) + YEARLY_LEVEL, address


def test_a_total_is_at_least_the_first_and_all_firsts_at_most_the_whole(small) -> None:
    found = total_shares(small, small.values, "tank", "hand", draws=4_096)
    totals = [one.total for one in found]
    assert totals == sorted(totals, reverse=True)
    for one in found:
        assert one.total > one.first - SIX * np.hypot(one.first_error, one.total_error), one.addresses
    error = np.linalg.norm([one.first_error for one in found])
    assert sum(one.first for one in found) < 1.0 + SIX * error
    assert sum(totals) > 1.0 - SIX * np.linalg.norm([one.total_error for one in found])


def test_seasons_that_fail_and_dry_holes_have_shares_of_their_own(tmp_path) -> None:
    layout = laid_out(tmp_path, WITH_HOLES)
    found = by_name(total_shares(layout, layout.values, "tank", "hand", draws=1_024))
    assert found[SEASONS_THAT_FAIL].total > 0
    assert found[DRY_HOLES].total > 0
    closed = by_name(total_shares(layout, layout.values, "tank", "hand", draws=256, events=NO_EVENTS))
    assert not {SEASONS_THAT_FAIL, DRY_HOLES} & closed.keys()


def test_with_correlated_rows_no_share_is_told(tmp_path) -> None:
    layout = laid_out(tmp_path, TYPED, **{"correlations.csv": CORRELATIONS})
    assert total_shares(layout, layout.values, "tank", "hand", draws=256) == []


def test_what_the_trial_measured_is_one_group_a_figure() -> None:
    """Litres applied of three treatments move the tap fee and the carrying; fruits the harvest: two groups of three."""
    layout = lay_out(open_case(DEMO))
    found = total_shares(layout, layout.values, "reservoir", "drip", draws=512)
    groups = [one for one in found if len(one.addresses) > 1]
    assert [len(one.addresses) for one in groups] == [3, 3]
    sample = drawn_sample(layout, layout.values, draws=16_384)
    told = first_order_shares(sample.drawn, sample.difference("reservoir", "drip"))
    for group in groups:
        rows = [sample.addresses.index(at) for at in group.addresses]
        # errors of three rows are independent here: plots of their own, blocks taken as fixed
        error = np.hypot(group.total_error, np.linalg.norm(told.error[rows]))
        assert_allclose(group.total, told.first[rows].sum(), atol=3 * error)  # a total holds little beside the first
