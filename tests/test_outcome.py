"""The one result schema: paths into it, and blocks of draws joined."""

import numpy as np
import pytest

from plotworth.ground.arrays import Array, cell
from plotworth.ground.outcome import Outcome, join


def outcome(npv: Array, litres: Array) -> Outcome:
    money = {"drip": {"npv": npv}}
    return Outcome(money, money, money, {"drip/wet": {"water_l_per_m2": litres}}, {"systems/drip": {"root_count": npv}})


def test_a_path_leads_to_a_figure_of_a_system_or_a_season() -> None:
    one = outcome(cell(3.0), cell(120.0))
    assert one.at("systems/drip/npv") == 3
    assert one.at("against_today/drip/npv") == 3
    assert one.at("seasons/drip/wet/water_l_per_m2") == 120
    assert one.at("facts/systems/drip/root_count") == 3


@pytest.mark.parametrize("path", ["systems/drip/nvp", "systems/can/npv", "seasons/drip/dry/water_l_per_m2"])
def test_a_path_to_nothing_is_an_error(path: str) -> None:
    with pytest.raises(KeyError):
        outcome(cell(3.0), cell(120.0)).at(path)


def test_one_block_is_returned_as_it_is() -> None:
    one = outcome(cell(3.0), cell(120.0))
    assert join([one], [1]) is one


def test_blocks_follow_each_other_in_the_draws() -> None:
    first = outcome(np.array([[1.0, 2.0]]), np.array([[5.0, 6.0]]))
    second = outcome(np.array([[3.0]]), np.array([[7.0]]))
    joined = join([first, second], [2, 1])
    assert joined.systems["drip"]["npv"].tolist() == [[1, 2, 3]]
    assert joined.seasons["drip/wet"]["water_l_per_m2"].tolist() == [[5, 6, 7]]


def test_a_figure_that_does_not_vary_fills_the_width_of_its_block() -> None:
    joined = join([outcome(cell(1.0), cell(5.0)), outcome(cell(2.0), cell(5.0))], [3, 2])
    assert joined.systems["drip"]["npv"].tolist() == [[1, 1, 1, 2, 2]]


def test_sites_stay_apart_when_blocks_are_joined() -> None:
    first = outcome(np.array([[1.0], [10.0]]), cell(5.0))
    second = outcome(np.array([[2.0], [20.0]]), cell(5.0))
    assert join([first, second], [1, 1]).systems["drip"]["npv"].tolist() == [[1, 2], [10, 20]]
