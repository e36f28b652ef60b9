"""From an outcome to its formula, its inputs with line, grade and source, and the record rows behind them."""

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from folders import DEMO, run
from independent_cases import assume, copy_demo, two_seasons_of_the_main_crop
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise, appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.recorded import Recorded, record
from plotworth.choose.season import EATEN_COUNTED
from plotworth.choose.system import WATER_VALUE
from plotworth.choose.trail import Trail, all_inputs, outcome_paths, trail
from plotworth.choose.trail_formula import OUTCOME_FORMULAS
from plotworth.choose.trail_records import line_ranges, trial_rows
from plotworth.ground.errors import PlotworthError
from plotworth.ground.glossary import GLOSSARY
from plotworth.report.page import WIDTH

COUNTS = {"harvests": ("marketable_fruits", "cull_fruits"), "fruit_masses": ("total_mass_g",), "water": ("litres",)}
TRIAL_FIGURES = [
    f"{name}/{system}/sweet pepper"
    for name in ("fruits_per_m2", "fruit_mass_g", "cull_share", "water_applied_l_per_m2")
    for system in ("reservoir", "drip", "hand")
]
STEP, UNLIKE = 0.5, 5
"""A row is made 1, 1.5 ... 3 times what was recorded, by its line, so that ratios move as well as sums."""


@cache
def demo() -> tuple[Appraisal, Recorded]:
    appraisal = appraise(open_case(DEMO))
    return appraisal, record(appraisal.layout, appraisal.values)


@cache
def trails() -> dict[str, Trail]:
    appraisal, found = demo()
    return {path: trail(appraisal, path, recorded=found) for path in outcome_paths(appraisal)}


# --- formulas ------------------------------------------------------------------------------------


def test_every_outcome_of_the_glossary_has_its_formula_in_words_and_nothing_else_has() -> None:
    assert set(OUTCOME_FORMULAS) == {term.name for term in GLOSSARY.values() if term.is_outcome}
    assert all(formula.words for formula in OUTCOME_FORMULAS.values())


def arithmetic(sentence: str) -> tuple[float, str]:
    """Return what the arithmetic on the left of a worked sentence comes to, and the number on its right as shown."""
    left, right = sentence.split(" = ")
    assert re.fullmatch(r"[0-9.x+\-/^() ,max]+", left)
    value = eval(left.replace(" x ", " * ").replace("^", "**"), {"__builtins__": {}, "max": max})
    return float(value), right.split(" ")[0]


def to_the_digits_of(shown: str, value: float) -> str:
    digits = len(shown.lstrip("-").replace(".", "").lstrip("0")) or 1
    return np.format_float_positional(value, precision=digits, fractional=False, trim="-")


@pytest.mark.parametrize("case", [None, two_seasons_of_the_main_crop], ids=["demo", "two_seasons"])
def test_a_worked_sentence_comes_to_the_outcome_to_the_digits_shown(
    case: Callable[[Path], None] | None, tmp_path: Path
) -> None:
    found = trails()
    if case is not None:
        folder = copy_demo(tmp_path)
        case(folder)
        appraisal = appraise(open_case(folder))
        records = record(appraisal.layout, appraisal.values)
        found = {path: trail(appraisal, path, recorded=records) for path in outcome_paths(appraisal)}
    worked = [one for one in found.values() if one.worked]
    assert len(worked) > 150
    for one in worked:
        value, shown = arithmetic(one.worked)
        rounding = 0.51 * 10.0 ** -len(shown.split(".")[1]) if "." in shown else 0.51 * 10 ** (len(shown) - 1)
        assert (one.path, to_the_digits_of(shown, one.value)) == (one.path, shown.rstrip())
        assert abs(value - float(shown)) <= max(rounding, 1e-3 * abs(value))


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        ("systems/drip/farm_gate_price_per_kg", "0.95 x (1 - 0.1) - 0.06 = 0.795 XTS/kg"),
        ("seasons/hand/late rains/water_l_per_m2", "210 / 0.93 = 225.81 L/m²"),
        ("systems/reservoir/reservoir_units", "400 x 0.7 / 2.4 = 116.67"),
        ("seasons/drip/late rains/lost_kg", "784 x 0.1 = 78.4 kg"),
        ("systems/drip/irr", ""),
        ("systems/drip/wells", ""),
    ],
)
def test_a_worked_sentence_reads_as_one_would_write_it(path: str, sentence: str) -> None:
    """By hand from the demo's book; late rains under drip: 2.8 kg/m2 x 280 m2 = 784 kg."""
    assert trails()[path].worked == sentence


def test_a_difference_says_what_is_taken_from_what() -> None:
    found = trails()
    hours = found["against_today/reservoir/family_hours"]
    assert hours.formula.startswith(
        "that of Wick-fed tank less that of Hand watering; each is sum over the labour plan"
    )
    assert found["against_baseline/hand/irr"].formula.endswith(
        "of the flows of Hand watering less those of Well and drip"
    )
    assert found["against_baseline/hand/less_water_share"].worked.startswith("1 - 438.631 / 506.019 = 0.1331")


# --- inputs --------------------------------------------------------------------------------------


def test_every_input_has_its_place_unit_grade_and_source() -> None:
    book = (DEMO / "assumptions.csv").read_text(encoding="utf-8").splitlines()
    lines = {file: (DEMO / file).read_text(encoding="utf-8").splitlines() for file in ("costs.csv", "labour_plan.csv")}
    seen = set()
    for one in (given for found in trails().values() for given in all_inputs(found)):
        given = one.input
        if given.file == "assumptions.csv" and given.line and given.address not in seen:
            cells = book[given.line - 1].split(",")
            assert (cells[0], given.unit in cells) == (given.address.split("/")[0], True)
        if given.file in lines and given.address not in seen:
            assert given.address.split("/")[2 if given.file == "costs.csv" else 3] in lines[given.file][given.line - 1]
        assert given.source
        assert given.unit
        seen.add(given.address)
    assert len(seen) > 200


def test_a_worked_out_value_leads_to_its_own_inputs_and_formula() -> None:
    one = next(i for i in trails()["systems/hand/family_hours"].inputs if i.input.address == "carrying_h_per_m3/hand")
    assert one.formula == "(2 x distance / pace + filling and pouring) / load"
    assert [below.input.address for below in one.stands_on] == [
        *("carry_distance_m", "carry_load_l", "carry_pace_km_per_h", "carry_fill_pour_min")
    ]
    assert all(below.input.line and below.input.grade for below in one.stands_on)
    assert not any(i.input.address == "carry_distance_m" for i in trails()["systems/hand/family_hours"].inputs)


def test_a_slider_is_followed() -> None:
    """Half the market price: the trail shows the value in force, not the book's."""
    appraisal, _ = demo()
    at = "market_price_per_kg/all/sweet pepper"
    moved = replace(appraisal, values={**appraisal.values, at: np.full((1, 1), 0.475)})
    shown = next(i for i in trail(moved, "systems/drip/sales").inputs if i.input.address == at)
    assert shown.value == 0.475


def test_a_view_is_followed() -> None:
    """What is eaten left uncounted, water at 0.2 a cubic metre: both stand in the worked sentence."""
    appraisal, _ = demo()
    hooks = {EATEN_COUNTED: np.zeros((1, 1)), WATER_VALUE: np.full((1, 1), 0.2)}
    seen = appraise_layout(appraisal.case, appraisal.layout, {**appraisal.values, **hooks})
    assert all(check.holds for check in seen.checks)
    assert trail(seen, "systems/drip/energy_cost").worked == "64.1871 x 0 + 213.241 x 0.2 = 42.648 XTS"
    assert " x 0 - " in trail(seen, "systems/drip/gross_margin_per_m2").worked


# --- record rows ---------------------------------------------------------------------------------


def figure_with(table: str, lines: tuple[int, ...], at: str, *, listed: bool) -> float:
    """Return a trial figure with the rows on these lines, or on all others, made larger, each by its own factor."""
    case = demo()[0].case
    rows = case.table(table).copy()
    chosen = rows["line"].isin(lines) == listed
    for column in COUNTS[table]:
        larger = rows[column].astype(float) * (1 + STEP * (rows["line"] % UNLIKE))
        rows[column] = rows[column].astype(float).mask(chosen, larger)
    return lay_out(replace(case, tables={**case.tables, table: rows})).inputs[at].value


def rows_of(at: str) -> dict[str, tuple[int, ...]]:
    lines: dict[str, tuple[int, ...]] = {}
    for rows in trial_rows(demo()[0].layout, at):
        lines[rows.file] = (*lines.get(rows.file, ()), *rows.lines)
    return lines


@pytest.mark.parametrize("at", TRIAL_FIGURES)
def test_the_rows_listed_move_a_figure_of_the_trial_and_all_others_leave_it(at: str) -> None:
    value = demo()[0].layout.inputs[at].value
    lines = rows_of(at)
    assert set(lines) <= {"plots.csv", *(f"{table}.csv" for table in COUNTS)}
    for table in COUNTS:
        listed = lines.get(f"{table}.csv", ())
        if listed:
            assert abs(figure_with(table, listed, at, listed=True) / value - 1) > 1e-4, (table, at)
        rest = figure_with(table, listed, at, listed=False)
        assert abs(rest / value - 1) < 1e-9, (table, at)


def test_a_missing_plot_brings_the_others_in_and_says_so() -> None:
    """One plot of hand watering was lost; the tank's and the drip's plots are whole."""
    layout = demo()[0].layout
    whats = {
        system: [r.what for r in trial_rows(layout, f"fruits_per_m2/{system}/sweet pepper")]
        for system in ("hand", "drip")
    }
    assert any("one is missing" in what for what in whats["hand"])
    assert whats["drip"] == ["plots of treatment drip, sweet pepper"] * 2


def test_lines_that_follow_each_other_are_a_range() -> None:
    assert line_ranges((9, 2, 3, 4, 7, 8)) == "2-4, 7-9"
    assert line_ranges((5,)) == "5"


# --- simulated values ----------------------------------------------------------------------------


@cache
def simulated(folder: Path) -> tuple[Appraisal, Recorded]:
    case = copy_demo(folder)
    assume(case, "water_applied_l_per_m2", "computed", "l/m2", system="hand", crop="sweet pepper")
    assume(case, "salt_limited_share", "computed", "share", system="hand", crop="sweet pepper")
    appraisal = appraise(open_case(case))
    return appraisal, record(appraisal.layout, appraisal.values)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("simulated")


def test_a_simulated_value_leads_to_its_rows_its_days_of_weather_and_the_handbook(folder: Path) -> None:
    """Planted on 2 February 2026 for 137 days, to 18 June: the dates stand on the lines that are named."""
    appraisal, found = simulated(folder)
    one = trail(appraisal, "systems/hand/water_l_per_m2", recorded=found).inputs[0]
    assert one.input.address == "water_applied_l_per_m2/hand/sweet pepper/warm dry"
    assert one.formula.startswith("gross requirement")
    rows = {below.input.address for below in one.stands_on}
    assert {"application_efficiency_share/hand", "wetted_share/hand", "growing_days/all/sweet pepper"} <= rows
    assert not any(at.endswith(("/reservoir", "/drip", "zucchini")) for at in rows)
    (weather,) = one.records
    days = (DEMO / "weather.csv").read_text(encoding="utf-8").splitlines()
    assert (weather.file, weather.what, len(weather.lines)) == ("weather.csv", "days of warm dry", 137)
    assert [days[line - 1][:10] for line in (weather.lines[0], weather.lines[-1])] == ["2026-02-02", "2026-06-18"]
    assert any("FAO-56" in note for note in one.notes)


def test_a_row_of_a_simulation_moves_the_outcome_when_the_case_is_laid_out_anew(folder: Path, tmp_path: Path) -> None:
    """Less efficient application: more water; a row of another system leaves it as it is."""
    appraisal, found = simulated(folder)
    path = "systems/hand/water_l_per_m2"
    assert "application_efficiency_share/hand" in found.moves[path]
    assert "wetted_share/drip" not in {*found.moves[path], *found.still[path]}
    for name, system, moves in (("application_efficiency_share", "hand", True), ("wetted_share", "drip", False)):
        case = copy_demo(tmp_path / name)
        assume(case, "water_applied_l_per_m2", "computed", "l/m2", system="hand", crop="sweet pepper")
        assume(case, "salt_limited_share", "computed", "share", system="hand", crop="sweet pepper")
        assume(case, name, "0.6", "share", system=system)
        other = appraise(open_case(case)).systems["hand"]["water_l_per_m2"]
        assert (other != appraisal.systems["hand"]["water_l_per_m2"]) == moves


# --- names, page, JSON ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "meant"),
    [
        ("systems/drp/npv", "systems/drip/npv"),
        ("npv", "systems/drip/npv"),
        ("season/drip/warm dry/sold_kg", "seasons/drip/warm dry/sold_kg"),
        ("systems/drip/water_l_per_k", "systems/drip/water_l_per_kg"),
    ],
)
def test_an_unknown_outcome_is_refused_with_those_that_are_near(path: str, meant: str) -> None:
    with pytest.raises(PlotworthError) as caught:
        trail(demo()[0], path, recorded=demo()[1])
    assert f"there is no outcome {path!r}; near are " in str(caught.value)
    assert meant in str(caught.value)


@pytest.mark.parametrize("path", ["systems/hand/npv", "against_baseline/reservoir/npv", "systems/reservoir/wells"])
def test_the_command_prints_the_trail_in_lines_of_a_hundred_characters(path: str) -> None:
    ran = run("trail", str(DEMO), path)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= WIDTH
    assert "INVENTED DATA" in ran.out
    assert "Formula: " in ran.out
    if path.endswith("npv"):
        assert "Discount rate (discount_rate): 0.12 share/year; assumptions.csv line 2, grade D, judged" in ran.out


def test_a_trail_ends_in_record_lines_on_the_page() -> None:
    out = " ".join(run("trail", str(DEMO), "systems/drip/yield_kg_per_m2").out.split())
    assert "harvests.csv lines 7, 12, 15, 20, 28, " in out
    assert "all of them with --json (56 rows): plots of treatment drip, sweet pepper" in out


def test_without_an_outcome_the_command_lists_all_and_the_dead_rows() -> None:
    ran = run("trail", str(DEMO))
    assert (ran.code, ran.err) == (0, "")
    assert f"{len(trails())} OUTCOMES" in ran.out
    assert "ROWS THAT MOVE NO OUTCOME" in ran.out
    assert max(map(len, ran.out.splitlines())) <= WIDTH
    listed = json.loads(run("trail", str(DEMO), "--json").out)
    assert listed["outcomes"] == list(outcome_paths(demo()[0]))


def test_the_command_refuses_an_unknown_outcome_in_one_sentence() -> None:
    ran = run("trail", str(DEMO), "systems/drip/nvp")
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.count("\n") == 1


def test_the_json_holds_what_the_trail_holds() -> None:
    data = json.loads(run("trail", str(DEMO), "systems/hand/irr", "--json").out)
    found = trails()["systems/hand/irr"]
    assert math.isnan(found.value)
    assert (data["value"], data["why"]) == (None, found.reason)
    assert [one["address"] for one in data["inputs"]] == [one.input.address for one in found.inputs]
    fruits = next(one for one in data["inputs"] if one["address"].startswith("fruits_per_m2"))
    assert [rows["file"] for rows in fruits["records"]] == ["plots.csv", "harvests.csv"] * 2
    assert fruits["records"][0]["lines"][0] == 5
