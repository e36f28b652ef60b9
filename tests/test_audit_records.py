"""The audit of records: faults refused at the border, unequal picking, zeros, deaths, meters. Tables are invented."""

from pathlib import Path

import pandas as pd

from audit_tables import audited, blocks_of, kinds, one, picked
from field_tables import records, water
from plotworth.field.finding import LIMITS, NOTE, REFUSES
from small_case import added, faults


def test_a_plot_in_harvests_that_is_not_in_plots_is_a_fault(tmp_path: Path) -> None:
    found = faults(tmp_path, added("harvests.csv", "2026-04-01,P9,4,0.5,12"))
    assert any("harvests.csv line 4, plot: found 'P9'; plots.csv has no such plot" in fault for fault in found)


def test_two_rows_for_one_plot_and_date_are_a_fault(tmp_path: Path) -> None:
    found = faults(tmp_path, added("harvests.csv", "2026-04-01,P1,4,0.5,12"))
    assert any("found '2026-04-01, P1'" in fault and "line 2" in fault and "keep line" in fault for fault in found)


def test_unequal_picking_is_said_with_days_and_rounds() -> None:
    plots = blocks_of("tank", "hand")
    tank, hand = (plots[plots["treatment"] == name] for name in ("tank", "hand"))
    found = audited(plots, pd.concat([picked(tank, days=(1, 8, 15)), picked(hand, days=(1, 8))], ignore_index=True))
    sentence = one(found, "unequal windows").sentence
    assert "tank: 2026-05-01 to 2026-05-15, 3 times; hand: 2026-05-01 to 2026-05-08, 2 times" in sentence


def test_a_picking_round_may_take_three_days() -> None:
    plots = blocks_of("tank", "hand")
    tank, hand = (plots[plots["treatment"] == name] for name in ("tank", "hand"))
    for later, expected in ((4, set()), (5, {"unequal windows"})):
        harvests = pd.concat([picked(tank, days=(1, 15)), picked(hand, days=(later, 15))], ignore_index=True)
        assert kinds(audited(plots, harvests)) == expected


def test_zeros_are_told_by_plot_by_treatment_and_altogether() -> None:
    plots = blocks_of("tank", "hand")
    plot_alone = audited(plots, picked(plots, lambda row: 0.0 if row["plot"] == "1tank" else 2.0))
    assert (one(plot_alone, "all zero").severity, one(plot_alone, "all zero").plots) == (NOTE, ("1tank",))
    treatment = audited(plots, picked(plots, lambda row: 0.0 if row["treatment"] == "tank" else 2.0))
    assert (one(treatment, "all zero").severity, one(treatment, "all zero").treatments) == (LIMITS, ("tank",))
    assert one(audited(plots, picked(plots, lambda _: 0.0)), "everything zero").severity == REFUSES


def test_plants_that_died_unequally_are_said_in_shares() -> None:
    plots = blocks_of("tank", "hand")
    harvests = picked(plots)
    own = harvests["plot"].str.endswith("tank") & (harvests["date"] == pd.Timestamp("2026-05-08"))
    sentence = one(
        audited(plots, harvests.assign(plants_alive=harvests["plants_alive"].mask(own, 3))), "unequal deaths"
    ).sentence
    # 3 of 6 plants at the last count
    assert "50\u00a0% of tank and 100\u00a0% of hand" in sentence


def test_a_shared_meter_is_named_with_its_plots() -> None:
    plots = blocks_of("tank", "hand", blocks=4)
    rows = [water(name, "irrigation", 10, meter="main" if name[0] == "1" else name) for name in plots["plot"]]
    finding = one(audited(plots, water=records("water", *rows)), "shared meter")
    assert "(main: 1tank and 1hand)" in finding.sentence
