"""Plausibility flags: each fires on a copy of the demo with one thing wrong, and on the demo itself stays silent.

What is seeded is invented; the ranges it is held against are those of the handbook's tables.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from independent_cases import add_rows, assume, copy_demo, rewrite, set_cells
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.appraise import Appraisal, appraise
from plotworth.choose.flag import PRACTICE, Flag
from plotworth.choose.guard import flags, unchecked
from trial_case import HARVESTS, PLOTS, WATER, trial_case

DEMO = Path(__file__).parent.parent / "data_demo"
TANKS = {("treatments/tank+fungus", "relative_yield_share"), ("treatments/tank", "relative_yield_share")}
"""What the demo itself raises: under the tanks more yield than inflow explains, its drainage being unmeasured."""


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return copy_demo(tmp_path)


def raised(appraisal: Appraisal) -> dict[tuple[str, str], Flag]:
    found = flags(appraisal)
    named = {(flag.place, flag.what): flag for flag in found}
    assert len(named) == len(found), "no figure is flagged twice"
    return named


def beyond_the_demo(appraisal: Appraisal) -> dict[tuple[str, str], Flag]:
    return {key: flag for key, flag in raised(appraisal).items() if key not in TANKS}


def grown(crop: str) -> dict[str, str]:
    """Return the tables of the small trial with another crop on all its plots."""
    return {"plots.csv": PLOTS.replace("pepper", crop)}


def grown_plan(
    folder: Path, crop: str, book: Mapping[str, float | str | None] | None = None, cover: str = "none"
) -> Appraisal:
    """Return the plain case appraised, without a trial, with another crop under a cover."""
    other: dict[str, float | str | None] = {
        "yield_kg_per_m2/tank/pepper": None,
        "yield_kg_per_m2/hand/pepper": None,
        "market_price_per_kg/all/pepper": None,
        f"yield_kg_per_m2/tank/{crop}": 3.0,
        f"yield_kg_per_m2/hand/{crop}": 2.0,
        f"market_price_per_kg/all/{crop}": 0.5,
    }
    covers = {f'label = "{name}"': f'label = "{name}"\ncover = "{cover}"' for name in ("Tank", "Hand")}
    seasons = (f"tank,dry,{crop},2,5,1", f"hand,dry,{crop},2,5,1")
    return appraise(plain_case(folder, book=other | dict(book or {}), seasons=seasons, settings=covers))


def test_the_demo_raises_only_that_inflow_does_not_explain_the_yield_under_the_tanks() -> None:
    appraisal = appraise(open_case(DEMO))
    assert raised(appraisal).keys() == TANKS


PEPPER_ROWS = "fertiliser_n_kg_per_ha, fertiliser_p_kg_per_ha, growing_period_days."
STATE_YOUR_OWN = "state your own value and its source."


def test_the_demo_names_what_no_range_is_published_for() -> None:
    told = unchecked(appraise(open_case(DEMO)))
    no_yield = "no published range of 'yield_kg_per_m2' for sweet pepper; the handbook has " + PEPPER_ROWS
    assert [text for text in told if not text.startswith("Salt ")] == [
        f"Yield of sweet pepper [kg/m2]: {no_yield}",
        f"Yield of zucchini [kg/m2]: zucchini is without a handbook row of published ranges; {STATE_YOUR_OWN}",
        f"Yield of sweet pepper against what its water could carry: {no_yield}",
        "Yield of zucchini against what its water could carry: "
        f"zucchini is without a handbook row of yield response; {STATE_YOUR_OWN}",
    ]


def test_flags_change_no_number(demo: Path) -> None:
    set_cells(demo, "water", "litres", "900", plot="P02", kind="lid_catch", date="2026-03-15")
    appraisal = appraise(open_case(demo))
    before, table = repr(appraisal.systems), appraisal.case.table("water").copy()
    trial = appraisal.layout.trial
    assert trial is not None
    productivities = trial.productivities.copy()
    assert flags(appraisal)
    assert repr(appraisal.systems) == before == repr(appraise(open_case(demo)).systems)
    assert table.equals(appraisal.case.table("water"))
    assert productivities.equals(trial.productivities)


def test_every_sentence_says_value_source_and_what_to_check(demo: Path) -> None:
    set_cells(demo, "water", "litres", "900", plot="P02", kind="lid_catch", date="2026-03-15")
    for flag in flags(appraise(open_case(demo))):
        assert "Check " in flag.sentence
        assert flag.source.split("; tolerance")[0].split(", Table")[0] in flag.sentence
        assert flag.low is not None or flag.high is not None


@pytest.mark.parametrize(("cover", "highest", "source"), [("none", 11.54, "USDA"), ("house", 160.0, "Nichols")])
def test_a_yield_above_the_highest_published_is_flagged(
    tmp_path: Path, cover: str, highest: float, source: str
) -> None:
    """Field tomato in print reaches 11.54 kg/m2, under glass 160."""
    book = {"yield_kg_per_m2/tank/tomato": highest + 0.1, "yield_kg_per_m2/hand/tomato": highest}
    found = raised(grown_plan(tmp_path, "tomato", book, cover))
    assert found.keys() == {("systems/tank", "yield_kg_per_m2")}
    flag = found["systems/tank", "yield_kg_per_m2"]
    assert (flag.high, flag.low, flag.unit) == (highest, None, "kg/m2")
    assert source in flag.source


def test_a_yield_above_an_average_says_that_it_is_an_average(tmp_path: Path) -> None:
    (flag,) = flags(grown_plan(tmp_path, "carrot", {"yield_kg_per_m2/tank/carrot": 4.0}))
    assert "an average that a good grower passes" in flag.sentence


def test_a_season_of_another_crop_is_looked_at_too(demo: Path) -> None:
    rewrite(demo, "seasons", lambda rows: [row | {"crop": row["crop"].replace("zucchini", "tomato")} for row in rows])
    rewrite(
        demo, "assumptions", lambda rows: [row | {"crop": row["crop"].replace("zucchini", "tomato")} for row in rows]
    )
    assume(demo, "yield_kg_per_m2", "20", "kg/m2", system="drip", crop="tomato")
    rewrite(demo, "assumptions", lambda rows: [row for row in rows if not fruit_of_drip_tomato(row)])
    assert ("seasons/drip/late rains", "yield_kg_per_m2") in beyond_the_demo(appraise(open_case(demo)))


def fruit_of_drip_tomato(row: Mapping[str, str]) -> bool:
    return row["name"].startswith("fruit") and row["crop"] == "tomato" and row["system"] in ("", "drip")


def test_a_crop_without_a_handbook_row_is_named_and_never_flagged(tmp_path: Path) -> None:
    appraisal = grown_plan(tmp_path, "okra", {"yield_kg_per_m2/tank/okra": 500.0})
    assert flags(appraisal) == ()
    assert any("okra" in text and "without a handbook row" in text for text in unchecked(appraisal))
    assert any("No trial" in text for text in unchecked(appraisal))


def test_the_trial_of_a_crop_without_a_handbook_row_is_named_balance_by_balance(tmp_path: Path) -> None:
    case = trial_case(
        tmp_path,
        book={"market_price_per_kg/all/pepper": None, "market_price_per_kg/all/okra": 0.5},
        seasons=("tank,dry,okra,2,5,1", "hand,dry,okra,2,5,1"),
        files=grown("okra"),
    )
    appraisal = appraise(case)
    assert flags(appraisal) == ()
    told = unchecked(appraisal)
    for opening in ("Yield of okra [kg/m2]", "Yield of okra against water", "Treatment tank: nitrogen removed"):
        assert sum(text.startswith(opening) for text in told) == 1, told
    assert sum("no scale" in text for text in told) == 2


def test_more_kilograms_per_m3_than_a_closed_greenhouse_are_flagged_by_tomato(tmp_path: Path) -> None:
    """3 and 5 kg/m2 on 10 l/m2 are 400 kg per m3 and 2.5 l/kg; the tomato's closed greenhouse has 250 and 4."""
    water = "".join(
        line + "\n" if "left_over" not in line else ""
        for line in WATER.replace("400", "40").replace("560", "40").splitlines()
    )
    found = raised(appraise(trial_case(tmp_path, files={"water.csv": water})))
    irrigated = found["systems/tank", "irrigation_productivity_kg_per_m3"]
    assert_allclose(irrigated.value, 400.0)
    assert irrigated.high == 250.0
    assert "Nederhoff" in irrigated.source
    assert "pepper has none of its own" in irrigated.sentence
    assert ("treatments/tank", "irrigation_productivity_kg_per_m3") not in found, "the system stands for it"
    assert_allclose(found["treatments/tank", "inflow_productivity_kg_per_m3"].value, 400.0)
    assert_allclose(found["systems/tank", "water_l_per_kg"].value, 2.5)
    assert found["systems/tank", "water_l_per_kg"].low == 4.0
    assert not any(place.endswith("hand") and "productivity" in what for place, what in found)


def test_a_tomato_is_held_against_its_own_closed_greenhouse(tmp_path: Path) -> None:
    appraisal = grown_plan(tmp_path, "tomatoes")
    systems = {
        name: figures | {"irrigation_productivity_kg_per_m3": 300.0} for name, figures in appraisal.systems.items()
    }
    found = raised(replace(appraisal, systems=systems))
    assert "none of its own" not in found["systems/tank", "irrigation_productivity_kg_per_m3"].sentence


def test_dew_beyond_a_clear_nights_is_flagged_with_the_rain_taken_off(demo: Path) -> None:
    """P02, 4.8 m2 net, 41 nights from 2 February to 15 March with 5.6 mm of rain: (900 / 4.8 - 5.6) / 41."""
    set_cells(demo, "water", "litres", "900", plot="P02", kind="lid_catch", date="2026-03-15")
    found = beyond_the_demo(appraise(open_case(demo)))
    flag = found["treatments/tank", "lid_catch_l_per_m2_per_night"]
    assert_allclose(flag.value, (900 / 4.8 - 5.6) / 41)
    assert (flag.high, flag.source) == (0.8, PRACTICE)
    assert "P02" in flag.sentence
    assert "2026-03-15" in flag.sentence


def test_dew_that_a_lid_as_large_as_the_plot_could_give_is_not_flagged(demo: Path) -> None:
    """(180 / 4.8 - 5.6) / 41 is 0.78 l/m2 a night."""
    set_cells(demo, "water", "litres", "180", plot="P02", kind="lid_catch", date="2026-03-15")
    assert not any("lid_catch" in what for _, what in raised(appraise(open_case(demo))))


def test_lid_catch_without_rain_by_the_day_is_named_as_unchecked(demo: Path) -> None:
    set_cells(demo, "weather", "rain_mm", "", date="2026-03-01")
    told = unchecked(appraise(open_case(demo)))
    assert any("Treatment tank:" in text and "cannot be told from rain" in text for text in told)


def test_rain_on_plots_under_a_cover_is_flagged_and_catch_there_is_no_rain(demo: Path) -> None:
    path = demo / "case.toml"
    covered = path.read_text(encoding="utf-8").replace('"reservoir"\ncover = "none"', '"reservoir"\ncover = "tunnel"')
    path.write_text(covered, encoding="utf-8")
    add_rows(demo, "water", {"date": "2026-03-16", "plot": "P02", "kind": "lid_catch", "litres": "4.5"})
    found = beyond_the_demo(appraise(open_case(demo)))
    rain = found["treatments/tank", "rain_l"]
    assert_allclose(rain.value, 62.770833 * 4.8 * 7, rtol=1e-6)  # the ledger's mean of seven plots, as printed
    assert "tunnel" in rain.sentence
    dew = found["treatments/tank", "lid_catch_l_per_m2_per_night"]
    assert dew.value > 4.5 / 4.8 - 1e-9
    assert "under a cover" in dew.sentence


def test_rain_under_a_net_is_rain(demo: Path) -> None:
    path = demo / "case.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('cover = "none"', 'cover = "net"'), encoding="utf-8")
    assert not any(what == "rain_l" for _, what in raised(appraise(open_case(demo))))


@pytest.mark.parametrize(("factor", "direction"), [(0.8, "more"), (1.2, "less")])
def test_counts_that_disagree_with_the_scale_are_flagged(demo: Path, factor: float, direction: str) -> None:
    def misweigh(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        return [
            row | {"marketable_kg": str(float(row["marketable_kg"]) * factor)} if row["marketable_kg"] else row
            for row in rows
        ]

    rewrite(demo, "harvests", misweigh)
    found = beyond_the_demo(appraise(open_case(demo)))
    flag = found["treatments/tank", "disagreement_share"]
    assert (flag.low, flag.high) == (-0.1, 0.1)
    assert_allclose(flag.value, (1 - 0.012697) / factor - 1, atol=1e-4)  # the demo's disagreement as printed
    assert f"{direction} kilograms" in flag.sentence


def test_more_nitrogen_taken_than_given_is_flagged_by_the_lowest_removal(demo: Path) -> None:
    """2.6319 kg/m2 x 3 kg N/t (Hegde 1997) is 7.9 g/m2; given 0.0048 kg on 4.8 m2."""

    def little(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        once = {row["plot"]: row | {"n_kg": "0.0048"} for row in rows}
        return list(once.values())

    rewrite(demo, "inputs", little)
    flag = beyond_the_demo(appraise(open_case(demo)))["treatments/tank", "nitrogen_removed_g_per_m2"]
    assert_allclose(flag.value, 2.6318928571428573 * 3)
    assert_allclose(flag.high, 1.0)
    assert "the soil gave the rest" in flag.sentence
    assert "Hegde" in flag.sentence


def test_an_input_of_unknown_content_is_unchecked_and_not_flagged(demo: Path) -> None:
    rewrite(demo, "inputs", lambda rows: [row | {"n_kg": ""} for row in rows])
    appraisal = appraise(open_case(demo))
    assert not any("nitrogen" in what for _, what in raised(appraisal))
    assert any("Treatment tank: nitrogen removed" in text for text in unchecked(appraisal))


def test_a_yield_that_its_water_does_not_explain_is_asked_about() -> None:
    """By hand from the demo's printed means: 2.6319/3.0949 of the yield on 414.67/584.90 of the inflow, Ky 1.1."""
    flag = raised(appraise(open_case(DEMO)))["treatments/tank", "relative_yield_share"]
    assert_allclose(flag.value, 2.631893 / 3.094887, rtol=1e-6)
    assert_allclose([flag.low, flag.high], 1 - 1.1 * (1 - 414.672619 / 584.89881), rtol=1e-6)
    assert "?" in flag.sentence
    assert "only an upper bound of evapotranspiration" in flag.sentence
    assert "Table 24" in flag.source


def test_a_yield_that_its_water_explains_is_left_alone(tmp_path: Path) -> None:
    """Hand plots drew 200 l/m2 for 3 kg/m2; tank plots get 4 kg/m2 from more: 300 l/m2, and are the reference."""
    water = WATER.replace("400", "1200").replace("560", "1200")
    assert flags(appraise(trial_case(tmp_path, files={"water.csv": water}))) == ()


def test_with_drainage_measured_evapotranspiration_stands_in_place_of_inflow(tmp_path: Path) -> None:
    """Tank 110 of 200 l/m2 inflow; the hand plots drained 90 of it, so both used 110 and the yields are the question.

    4 kg/m2 stand against 3 kg/m2 where 3 are expected: 1.33 of the reference on all of its evapotranspiration.
    """
    drained = "".join(
        f"2026-04-01,{plot},drainage,{litres},\n" for plot, litres in (("T1", 0), ("T2", 0), ("H1", 360), ("H2", 360))
    )
    found = raised(appraise(trial_case(tmp_path, files={"water.csv": WATER + drained, "harvests.csv": HARVESTS})))
    flag = found["treatments/tank", "relative_yield_share"]
    assert_allclose([flag.value, flag.high], [4 / 3, 1.0])
    assert "by balance" in flag.sentence
