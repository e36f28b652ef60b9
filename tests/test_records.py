"""The record tables: cells, dates and plots held against each other; notices of what is only half known."""

import datetime
from pathlib import Path

import numpy as np
import pytest

from plotworth.case.folder import open_case
from small_case import FILES, added, changed, faults, write_case

WATER = "date,plot,kind,litres\n2026-03-01,P1,irrigation,20\n"
MASSES = "date,plot,fruits,total_mass_g\n2026-04-01,P1,1,100\n"


def notices(folder: Path, files: dict[str, str]) -> list[str]:
    return [one for one in open_case(write_case(folder, files)).notices if ".csv" in one]


# --- tables as read ------------------------------------------------------------------------------


def test_numbers_dates_and_texts_come_with_their_types_and_lines(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path))
    harvests = case.table("harvests")
    assert list(harvests["marketable_kg"]) == [4.5, 5.0]
    assert harvests["date"].dt.date.tolist() == [datetime.date(2026, 4, 1)] * 2
    assert list(harvests["line"]) == [2, 3]
    assert list(harvests["note"]) == ["", ""]


def test_blank_is_missing_and_zero_is_zero(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path, added("harvests.csv", "2026-04-08,P1,0,,12", "2026-04-08,P2,,0,12")))
    harvests = case.table("harvests")
    assert harvests["marketable_fruits"].tolist()[2] == 0.0
    assert np.isnan(harvests["marketable_fruits"].tolist()[3])
    assert np.isnan(harvests["marketable_kg"].tolist()[2])


def test_a_factor_column_is_kept_as_text(tmp_path: Path) -> None:
    plots = FILES["plots.csv"].replace("plants\n", "plants,factor_salt\n").replace("4,12", "4,12,0")
    assert list(open_case(write_case(tmp_path, {"plots.csv": plots})).table("plots")["factor_salt"]) == ["0", "0"]


def test_a_treatment_called_none_or_na_stays_a_word(tmp_path: Path) -> None:
    lines = ["P3,B1,None,pepper,2026-02-01,4,12", "P4,B1,NA,pepper,2026-02-01,4,12"]
    case = open_case(write_case(tmp_path, added("plots.csv", *lines)))
    assert list(case.table("plots")["treatment"]) == ["tank", "tank", "None", "NA"]


def test_a_table_that_is_not_kept_is_empty_with_all_its_columns(tmp_path: Path) -> None:
    water = open_case(write_case(tmp_path)).table("water")
    assert len(water) == 0
    assert {"date", "plot", "kind", "litres", "meter", "line"} <= set(water.columns)


# --- cells ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [
        (
            "plots.csv",
            "02-01,4,12",
            "02-01,0,12",
            "plots.csv line 2, net_area_m2: found '0'; must lie between 0.001 and 1e+06 m2; "
            "correct the number or its unit.",
        ),
        (
            "plots.csv",
            "02-01,4,12",
            "02-01,,12",
            "plots.csv line 2, net_area_m2: must not be blank; "
            "write: planted area that is harvested and recorded; guard plants left out.",
        ),
        (
            "plots.csv",
            "2026-02-01",
            "01/02/2026",
            "plots.csv line 2, planted_on: found '01/02/2026'; a date is written as year-month-day; "
            "write 2026-02-01 if day 1 of month 2 is meant.",
        ),
        (
            "plots.csv",
            "2026-02-01",
            "0202-02-01",
            "plots.csv line 2, planted_on: found '0202-02-01'; the year must lie between 1700 and 2200; "
            "write the year in four digits.",
        ),
        (
            "plots.csv",
            "net_area_m2",
            "net_area",
            "plots.csv line 1, net_area: found 'net_area'; the table knows no such column; did you mean net_area_m2.",
        ),
        (
            "plots.csv",
            "block",
            "salt",
            "plots.csv line 1, salt: found 'salt'; the table knows no such column; "
            "use block, site, trial_year, manager, note, or remove it; a factor of the trial is named factor_NAME.",
        ),
        (
            "harvests.csv",
            "P1,40,",
            "P1,-40,",
            "harvests.csv line 2, marketable_fruits: found '-40'; must lie between 0 and 1e+07; "
            "write 0 where there was none, or leave the cell blank where it is not known.",
        ),
        (
            "harvests.csv",
            "P1,40,4.5",
            'P1,40,"4,5"',
            "harvests.csv line 2, marketable_kg: found '4,5'; a decimal comma is not read; "
            "write 4.5, with a decimal point.",
        ),
        (
            "harvests.csv",
            "P1,40,4.5",
            "P1,40.5,4.5",
            "harvests.csv line 2, marketable_fruits: found '40.5'; must be a whole number; "
            "write a whole number; a part of one belongs in kilograms or in a share.",
        ),
        (
            "harvests.csv",
            "marketable_fruits",
            "marketable_fruit",
            "harvests.csv line 1, marketable_fruit: found 'marketable_fruit'; the table knows no such column; "
            "did you mean marketable_fruits.",
        ),
    ],
)
def test_a_cell_that_cannot_be_meant_is_refused(tmp_path: Path, file: str, old: str, new: str, expected: str) -> None:
    assert expected in faults(tmp_path, changed(file, old, new))


def test_a_kind_of_water_that_is_not_known_is_refused_with_the_nearest(tmp_path: Path) -> None:
    (text,) = faults(tmp_path, {"water.csv": WATER.replace("irrigation", "irigation")})
    assert text.startswith("water.csv line 2, kind: found 'irigation'; must be one of first_fill, refill, irrigation")
    assert text.endswith("; write irrigation.")


# --- rows against rows ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        (
            added("harvests.csv", "2027-04-01,P1,1,1,12"),
            "harvests.csv line 4, date: found '2027-04-01'; the date lies after 2026-09-30, when the case is judged; "
            "correct the year or day, or move as_of in case.toml.",
        ),
        (
            added("plots.csv", "P3,B1,tank,pepper,2026-12-01,4,12"),
            "plots.csv line 4, planted_on: found '2026-12-01'; the date lies after 2026-09-30, when the case is "
            "judged; correct the year or day, or move as_of in case.toml.",
        ),
        (
            added("harvests.csv", "2026-01-05,P1,1,1,12"),
            "harvests.csv line 4, date: found '2026-01-05'; the date lies before the plot was planted; "
            "correct one of the two dates.",
        ),
        (
            added("harvests.csv", "2026-04-01,P1,41,4.6,12"),
            "harvests.csv line 4, plot: found '2026-04-01, P1'; the plot has a row of this date already (line 2); "
            "keep line 2 or line 4, or correct the date.",
        ),
        (
            added("plots.csv", "P1,B1,tank,pepper,2026-02-01,4,12"),
            "plots.csv line 4, plot: found 'P1'; the plot has a row already (line 2); "
            "keep line 2 or line 4, or correct the plot.",
        ),
        (
            added("harvests.csv", "2026-04-08,P11,1,1,12"),
            "harvests.csv line 4, plot: found 'P11'; plots.csv has no such plot; did you mean P1.",
        ),
        (
            added("harvests.csv", "2026-04-08,XYZ,1,1,12"),
            "harvests.csv line 4, plot: found 'XYZ'; plots.csv has no such plot; "
            "add the plot to plots.csv or correct its name.",
        ),
        (
            added("harvests.csv", "2026-04-08,P1,,,12"),
            "harvests.csv line 4, marketable_fruits: the row has neither a count nor kilograms; "
            "write 0 where nothing was picked, or remove the row where nobody picked.",
        ),
        (
            added("harvests.csv", "2026-04-08,P1,0,2.5,12"),
            "harvests.csv line 4, marketable_fruits: found '0'; 2.5 kg from no fruit; "
            "write the count, or leave it blank where the fruit was not counted.",
        ),
        (
            added("harvests.csv", "2026-04-08,P1,9,0,12"),
            "harvests.csv line 4, marketable_kg: found '0'; 9 fruits of no mass; "
            "write the kilograms, or leave them blank where the fruit was not weighed.",
        ),
        (
            added("harvests.csv", "2026-04-08,P1,9,1,13"),
            "harvests.csv line 4, plants_alive: found '13'; more plants alive than the 12 set; "
            "correct one of the two numbers.",
        ),
        (
            {"soil_water.csv": "date,plot,mm\n2026-03-01,P1,90\n2026-03-01,P1,91\n"},
            "soil_water.csv line 3, plot: found '2026-03-01, P1'; the plot has a row of this date already (line 2); "
            "keep line 2 or line 3, or correct the date.",
        ),
        (
            {"weather.csv": "date,rain_mm\n2026-03-01,0\n2026-03-01,1\n"},
            "weather.csv line 3, date: found '2026-03-01'; the day has a row already (line 2); "
            "keep line 2 or line 3, or correct the date.",
        ),
    ],
)
def test_rows_that_contradict_each_other_are_refused(tmp_path: Path, files: dict[str, str], expected: str) -> None:
    assert faults(tmp_path, files) == [expected]


def test_water_may_come_twice_a_day(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path, {"water.csv": WATER + "2026-03-01,P1,irrigation,20\n"}))
    assert len(case.table("water")) == 2


def test_fruit_counted_and_never_weighed_is_refused_once_a_crop(tmp_path: Path) -> None:
    harvests = "date,plot,marketable_fruits\n2026-04-01,P1,40\n2026-04-01,P2,50\n"
    assert faults(tmp_path, {"harvests.csv": harvests}) == [
        "harvests.csv line 2, marketable_fruits: fruit of pepper was counted here and none of it was ever weighed; "
        "weigh some fruit into fruit_masses.csv, or weigh pickings into marketable_kg."
    ]


def test_fruit_of_another_plot_of_the_crop_serves_as_weighed(tmp_path: Path) -> None:
    harvests = "date,plot,marketable_fruits\n2026-04-01,P1,40\n2026-04-01,P2,50\n"
    case = open_case(write_case(tmp_path, {"harvests.csv": harvests, "fruit_masses.csv": MASSES}))
    assert len(case.table("fruit_masses")) == 1


def test_a_picking_of_an_unknown_plot_is_not_held_against_its_fruit_too(tmp_path: Path) -> None:
    (text,) = faults(tmp_path, added("harvests.csv", "2026-04-08,P9,40,,"))
    assert "plots.csv has no such plot" in text


# --- notices -------------------------------------------------------------------------------------


def test_a_count_without_kilograms_is_a_notice(tmp_path: Path) -> None:
    assert notices(tmp_path, changed("harvests.csv", "40,4.5", "40,")) == [
        "harvests.csv: 1 of 2 rows have a count and no kilograms; their kilograms are count x mean fruit mass."
    ]


def test_kilograms_without_a_count_are_a_notice(tmp_path: Path) -> None:
    assert notices(tmp_path, changed("harvests.csv", "40,4.5", ",4.5")) == [
        "harvests.csv: 1 of 2 rows have kilograms and no count; their kilograms are taken as weighed and their fruit "
        "is missing from fruits per m2."
    ]


def test_a_plot_without_pickings_is_a_notice_with_its_note(tmp_path: Path) -> None:
    plots = FILES["plots.csv"].replace("plants\n", "plants,note\n").replace("4,12\n", "4,12,\n")
    assert notices(tmp_path, {"plots.csv": plots + "P3,B3,tank,pepper,,4,12,lost to goats\n"}) == [
        "plots.csv line 4: plot P3 has no picking: missing, not zero (lost to goats)."
    ]


def test_plots_with_fewer_pickings_are_a_notice(tmp_path: Path) -> None:
    assert notices(tmp_path, added("harvests.csv", "2026-04-08,P2,9,1,12")) == [
        "harvests.csv: P1 have fewer pickings than the 2 of the others."
    ]


# --- the plan ------------------------------------------------------------------------------------

SEASONS = "seasons.csv"
LABOUR = "system,season,task,month,hours_per_m2,hours,family_share,harvest\n"


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        (
            added(SEASONS, "tanks,dry,pepper,2,5,1"),
            "seasons.csv line 4, system: found 'tanks'; the case has no such system; did you mean tank.",
        ),
        (
            changed(SEASONS, "hand,dry,pepper,2,5,1\n", ""),
            "seasons.csv, hand: the system hand has no season; "
            "write a row with its season, crop, first_month, months and share_of_area.",
        ),
        (
            added(SEASONS, "tank,wet,pepper,6,4,0.5"),
            "seasons.csv line 4, share_of_area: seasons that overlap take 1.5 of the area; "
            "shorten a season or lower a share_of_area.",
        ),
        (
            added(SEASONS, "tank,dry,pepper,9,2,1"),
            "seasons.csv line 4, season: found 'dry'; the system has this season already; "
            "name each season of a system once.",
        ),
        (
            added(SEASONS, "tank,wet,pepper,13,2,1"),
            "seasons.csv line 4, first_month: found '13'; must lie between 1 and 12 month; "
            "correct the number or its unit.",
        ),
        (
            changed("case.toml", 'treatment = "tank"', 'treatment = "tanks"'),
            "case.toml, treatment: found 'tanks'; plots.csv has no plot with it; did you mean tank.",
        ),
        (
            changed("case.toml", "invented = true", 'invented = true\nmain_crop = "peper"'),
            "case.toml, main_crop: found 'peper'; no season grows this crop; did you mean pepper.",
        ),
        (
            {"labour_plan.csv": LABOUR + "tank,dry,weeding,3,,,1,no\n"},
            "labour_plan.csv line 2, weeding: needs one of hours_per_m2 and hours; "
            "write hours_per_m2 for work that grows with the area, or hours for work that does not.",
        ),
        (
            {"labour_plan.csv": LABOUR + "tank,dry,weeding,3,0.1,,1,no\ntank,dry,weeding,3,0.2,,1,no\n"},
            "labour_plan.csv line 3, weeding: found 'weeding'; line 2 plans the same task in the same month; "
            "add the hours up in one row.",
        ),
        (
            {"labour_plan.csv": LABOUR + "tank,wet,weeding,3,0.1,,1,no\n"},
            "labour_plan.csv line 2, season: found 'wet'; the case has no such season; write one of dry.",
        ),
    ],
)
def test_a_plan_that_cannot_be_meant_is_refused(tmp_path: Path, files: dict[str, str], expected: str) -> None:
    assert faults(tmp_path, files) == [expected]


def test_a_season_may_run_over_the_turn_of_the_year(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path, added(SEASONS, "tank,wet,pepper,11,3,1")))
    assert len(case.table("seasons")) == 3


def test_a_treatment_without_any_plot_in_an_empty_table_says_what_to_do(tmp_path: Path) -> None:
    header = FILES["plots.csv"].splitlines()[0] + "\n"
    texts = faults(tmp_path, {"plots.csv": header, "harvests.csv": None})
    expected = "case.toml, treatment: found 'tank'; plots.csv has no plot with it; "
    assert texts == [expected + "add its plots, or remove the setting."]
