"""Many futures in one go: the same figures as risk, chances by area and influence each by itself."""

import pytest
from numpy.testing import assert_allclose

from plotworth.choose.events import NO_EVENTS
from plotworth.choose.futures import LADDER, LEAST_FOR_INFLUENCE, draw_futures
from plotworth.choose.influence import influence
from plotworth.choose.risk import risk, risk_by_area
from plotworth.choose.risk_rows import area_ladder_m2
from risk_cases import laid_out

DRAWS, SEED = 64, 3


@pytest.fixture(scope="module")
def layout(tmp_path_factory):
    return laid_out(tmp_path_factory.mktemp("futures"))


def test_it_draws_what_risk_chances_by_area_and_influence_draw_by_themselves(layout):
    told = []
    options = {"seed": SEED, "events": NO_EVENTS}
    found = draw_futures(layout, layout.values, "tank", ["hand"], draws=DRAWS, told=told.append, **options)
    by_itself = risk(layout, layout.values, draws=DRAWS, **options)
    assert all((found.risk.npv[system] == npv).all() for system, npv in by_itself.npv.items())
    areas = area_ladder_m2(layout, layout.values)
    assert list(found.areas) == risk_by_area(layout, layout.values, areas, draws=DRAWS, **options)
    alone = influence(layout, layout.values, "tank", "hand", draws=LEAST_FOR_INFLUENCE, **options)
    assert found.influences["hand"].shares == alone.shares
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_the_table_of_areas_holds_the_ladder_and_every_system(layout):
    found = draw_futures(layout, layout.values, "tank", ["hand"], draws=DRAWS)
    areas = dict.fromkeys(row.area_m2 for row in found.table_areas)
    assert_allclose(list(areas), [found.own_m2 * step for step in LADDER])
    assert len(found.table_areas) == len(LADDER) * len(found.risk.systems)


def test_what_is_raised_while_it_is_told_ends_the_work(layout):
    def end(done):
        raise InterruptedError(f"{done:.0%}")

    with pytest.raises(InterruptedError):
        draw_futures(layout, layout.values, "tank", ["hand"], draws=DRAWS, told=end)
