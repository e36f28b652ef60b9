"""What an outcome is said to stand on: each listed input moves it when moved by itself, each other one leaves it."""

import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from folders import DEMO
from independent_cases import assume, copy_demo, lifted_and_carried, worth_having
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise, appraise_layout
from plotworth.choose.evaluate import evaluate
from plotworth.choose.inputs import expected_shocks
from plotworth.choose.layout import Layout
from plotworth.choose.recorded import CANCELS, Recorded, record
from plotworth.choose.simulated import with_simulated
from plotworth.choose.trail import outcome_paths, trail
from plotworth.ground.arrays import cell
from plotworth.ground.errors import FaultsError

MOVED_BY = 0.03
"""Part by which the test moves a value: another than the library's, and each way by itself."""
NOISE = 1e-9
"""Of a figure's size: what adding in another order leaves is a thousand times less, the least movement more."""
SECONDS = 2.0
WHOLE = ("watering_interval_days", "refill_interval_days", "growing_days", "stage_row")
INTERVAL = ("less_water_share_low", "less_water_share_high")


@cache
def recorded(folder: Path) -> tuple[Appraisal, Recorded]:
    appraisal = appraise(open_case(folder))
    return appraisal, record(appraisal.layout, appraisal.values)


def figures_at(layout: Layout, values: dict, moved: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return every outcome by path with moved values in the draws of one call, worked-out ones left as they are put."""
    items = tuple(item for item in layout.structure.computed if item.address not in moved)
    structure, put = replace(layout.structure, computed=items), {**values, **moved}
    outcome = evaluate(structure, put, expected_shocks(structure, put))
    parts = ("systems", "against_baseline", "against_today", "seasons")
    return {
        f"{part}/{key}/{name}": array[0]
        for part in parts
        for key, own in getattr(outcome, part).items()
        for name, array in own.items()
    }


def movers(folder: Path) -> tuple[dict[str, float], dict[str, set[str]]]:
    """Return the outcomes of a case, and by path the inputs of which a move either way moves them, each by itself."""
    layout = recorded(folder)[0].layout
    values = dict(layout.values)
    base = {path: float(array[0]) for path, array in figures_at(layout, values, {}).items()}
    found: dict[str, set[str]] = {path: set() for path in base}
    worked_out = [item.address for item in layout.structure.computed]
    typed = [at for at in values if at not in worked_out]
    for group in (typed, *([at] for at in worked_out)):
        for way in (1 + MOVED_BY, 1 - MOVED_BY):
            moved = {at: np.full((1, len(group)), float(values[at].flat[0])) for at in group}
            for draw, at in enumerate(group):
                moved[at][0, draw] = moved[at][0, draw] * way or abs(way - 1)
            for path, array in figures_at(layout, values, moved).items():
                for at, figure in zip(group, np.broadcast_to(array, len(group)), strict=True):
                    if is_moved(path, base, figure):
                        found[path].add(at)
    return base, found


def is_moved(path: str, base: dict[str, float], figure: float) -> bool:
    if np.isnan(base[path]) or np.isnan(figure):
        return bool(np.isnan(base[path]) != np.isnan(figure))
    name = path.rsplit("/", 1)[1]
    parts = [abs(one) for other, one in base.items() if other.endswith(f"/{name}") and one == one]
    money = 1e4 if name in ("npv", "equivalent_annual_value", "present_value_costs") else 0.0
    return abs(figure - base[path]) > NOISE * max(*parts, money)


@pytest.mark.parametrize("case", [None, worth_having, lifted_and_carried], ids=["demo", "worth_having", "lifted"])
def test_each_listed_input_moves_its_outcome_and_no_other_does(case, tmp_path: Path) -> None:
    """Every outcome that has a value, every input that has one: the lists agree both ways."""
    folder = DEMO
    if case is not None:
        folder = copy_demo(tmp_path)
        case(folder)
    appraisal, found = recorded(folder)
    base, moving = movers(folder)
    unknown = {at for at, one in appraisal.layout.inputs.items() if np.isnan(one.value)}
    compared = [path for path, value in base.items() if np.isfinite(value)]
    assert len(compared) > 250
    for path in compared:
        assert (path, set(found.moves[path]) - unknown) == (path, moving[path])


def hand_water_computed(case: Path) -> None:
    assume(case, "water_applied_l_per_m2", "computed", "l/m2", system="hand", crop="sweet pepper")
    assume(case, "salt_limited_share", "computed", "share", system="hand", crop="sweet pepper")


def test_rows_of_a_simulation_are_listed_where_a_season_followed_anew_moves(tmp_path: Path) -> None:
    """Every row of the groups demand and reservoir, moved by itself, the season followed again, all else as it was."""
    folder = copy_demo(tmp_path)
    hand_water_computed(folder)
    appraisal, found = recorded(folder)
    layout, values = appraisal.layout, dict(appraisal.values)
    base = {path: float(array[0]) for path, array in figures_at(layout, values, {}).items()}
    rows = [one for one in layout.inputs.values() if one.group in ("demand", "reservoir")]
    moving: dict[str, set[str]] = {path: set() for path in base}
    for one in rows:
        step = 1.0 if one.address.split("/")[0] in WHOLE else MOVED_BY * (one.value or 1.0)
        for number in (one.value + step, one.value - step):
            put = {**values, one.address: cell(min(max(number, one.lowest), one.highest))}
            try:  # a day more than the weather covers is refused; a day less is not
                followed = dict(with_simulated(replace(layout, memory=dict(layout.memory)), put))
            except FaultsError:
                continue
            for path, array in figures_at(layout, followed, {}).items():
                if is_moved(path, base, float(array[0])):
                    moving[path].add(one.address)
    listed = {one.address for one in rows}
    assert sum(map(len, moving.values())) > 100
    for path in (path for path, value in base.items() if np.isfinite(value)):
        assert (path, set(found.moves[path]) & listed) == (path, moving[path])


def test_every_outcome_has_its_list_and_the_ends_of_an_interval_that_of_the_share() -> None:
    appraisal, found = recorded(DEMO)
    paths = outcome_paths(appraisal)
    assert set(paths) == set(found.moves) == set(found.still)
    for part in ("against_baseline/reservoir", "against_today/drip"):
        for end in INTERVAL:
            assert found.moves[f"{part}/{end}"] == found.moves[f"{part}/less_water_share"]


@pytest.mark.parametrize("at", ["delivery_share/drip", "delivery_share/reservoir", "delivery_share/hand"])
def test_the_ends_of_the_interval_move_with_what_they_list(at: str) -> None:
    appraisal, found = recorded(DEMO)
    moved = appraise_layout(appraisal.case, appraisal.layout, {**appraisal.values, at: cell(0.5)})
    for end in INTERVAL:
        before, after = (one.against_baseline["reservoir"][end] for one in (appraisal, moved))
        assert (before != after) == (at in found.moves[f"against_baseline/reservoir/{end}"])


def test_an_outcome_without_value_stands_on_what_it_is_made_from() -> None:
    """Simple payback and rate of return on the flows, which no discount rate moves; discounted payback on the NPV."""
    appraisal, found = recorded(DEMO)
    assert all(np.isnan(appraisal.systems["hand"][name]) for name in ("irr", "discounted_payback_years"))
    npv = set(found.moves["systems/hand/npv"])
    assert set(found.moves["systems/hand/discounted_payback_years"]) == npv
    assert set(found.moves["systems/hand/irr"]) == npv - {"discount_rate"}


def test_what_is_not_stated_and_would_be_needed_is_listed() -> None:
    found = recorded(DEMO)[1]
    assert found.moves["systems/drip/reservoir_units"] == ("planted_share", "m2_per_unit", "area_m2")
    assert set(found.moves["systems/drip/wells"]) == {"planted_share", "area_per_well_m2", "area_m2"}


def test_what_enters_and_moves_nothing_says_why() -> None:
    """Energy is free of charge under drip; compost is paid alike by both; a step of 2,500 m2 stands above 400 m2."""
    found = recorded(DEMO)[1]
    assert "multiplied by 0" in found.still["systems/drip/energy_cost"]["static_level_m/drip"]
    assert found.still["against_baseline/reservoir/npv"]["cost/all/compost/unit_price"] == CANCELS
    assert "cost/all/compost/unit_price" in found.moves["systems/reservoir/npv"]
    assert not set(found.still["systems/drip/npv"]) & set(found.moves["systems/drip/npv"])


def test_the_step_of_a_well_is_told_apart_from_no_effect(tmp_path: Path) -> None:
    """280 m2 planted: at 250 m2 a well serves there are two; at 300 one would do, at 240 two still."""
    folder = copy_demo(tmp_path)
    assume(folder, "area_per_well_m2", "250", "m2", system="drip")
    text = (folder / "assumptions.csv").read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith("area_per_well_m2,drip"))
    cells = line.split(",")
    cells[5:7] = "240", "300"
    (folder / "assumptions.csv").write_text(text.replace(line, ",".join(cells)), encoding="utf-8")
    found = recorded(folder)[1]
    why = found.still["systems/drip/wells"]["area_per_well_m2/drip"]
    assert why == "enters, but the figure moves only when it goes as far as 300"


def test_all_trails_of_the_demo_take_less_than_two_seconds() -> None:
    """Of the processor's own time, best of three, since other work shares this machine."""
    appraisal = appraise(open_case(DEMO))
    taken = []
    for _ in range(3):
        appraisal.layout.memory.clear()
        start = time.process_time()
        found = record(appraisal.layout, appraisal.values)
        for path in outcome_paths(appraisal):
            trail(appraisal, path, recorded=found)
        taken.append(time.process_time() - start)
    assert min(taken) < SECONDS
