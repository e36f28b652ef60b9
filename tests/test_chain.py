"""The kilogram chain."""

from types import SimpleNamespace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from plotworth.field.chain import kilogram_chain

SHARE = st.floats(0, 1)


def test_a_chain_worked_by_hand() -> None:
    # by hand: 5 kg/m2 on 80 m2 = 400 kg marketable; a fifth of what is picked is culled, so 500 kg are picked;
    # a tenth of 400 is lost; a quarter of 360 is eaten; 270 are sold
    chain = kilogram_chain(5.0, 80.0, 0.2, 0.1, 0.25)
    found = [chain.picked, chain.culled, chain.marketable, chain.lost, chain.eaten, chain.sold]
    assert_allclose(found, [500, 100, 400, 40, 90, 270], rtol=1e-12)


def test_a_chain_without_culls_losses_and_eaters_sells_what_it_picks() -> None:
    chain = kilogram_chain(3.0, 7.0, 0.0, 0.0, 0.0)
    assert chain.picked == chain.marketable == chain.sold == 21.0


@given(st.floats(0, 1000), st.floats(0.1, 1e9), st.floats(0, 0.99), SHARE, SHARE)
def test_nothing_is_made_or_lost_on_the_way(kg: float, area: float, cull: float, loss: float, eaten: float) -> None:
    chain = kilogram_chain(kg, area, cull, loss, eaten)
    parts = chain.culled + chain.lost + chain.eaten + chain.sold
    assert_allclose(parts, chain.picked, rtol=1e-12)
    assert_allclose(chain.culled + chain.marketable, chain.picked, rtol=1e-12)


@given(SHARE, SHARE)
def test_nothing_sold_is_negative(loss: float, eaten: float) -> None:
    # rounding may leave a last-digit remainder where everything is eaten
    assert kilogram_chain(1.0, 1.0, 0.0, loss, eaten).sold >= -1e-15


def test_sites_and_draws_broadcast() -> None:
    area, yields = np.full((3, 1), 10.0), np.linspace(1, 2, 5)[None, :]
    chain = kilogram_chain(yields, area, 0.1, np.zeros((1, 5)), 0.5)
    assert chain.sold.shape == (3, 5)
    one = SimpleNamespace(**vars(kilogram_chain(yields[0, 4], 10.0, 0.1, 0.0, 0.5)))
    assert_allclose(chain.sold[2, 4], one.sold, rtol=1e-12)
