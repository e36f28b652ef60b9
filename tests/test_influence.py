"""What moves a case, rests on what and is worth knowing: put together, on the page, in the JSON, in the charts."""

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from folders import DEMO, run
from plain_case import plain_case
from plotworth.case.folder import open_case
from plotworth.choose.case_crossover import main_pair
from plotworth.choose.drawn_sample import drawn_sample
from plotworth.choose.draws import draw_block, draw_plan
from plotworth.choose.events import NO_EVENTS
from plotworth.choose.influence import influence
from plotworth.choose.influence_rows import evidence_rows, share_rows, tornado_rows, worth_rows
from plotworth.choose.information_value import Worth
from plotworth.choose.inputs import lay_out
from plotworth.choose.lines import OWN_WORTH, worked_out
from plotworth.choose.present_worth import net_present_values
from plotworth.choose.risk import ALL_EVENTS
from plotworth.choose.risk_share_table import compared, influence_groups, influence_notes
from plotworth.ground.arrays import cell
from plotworth.report.influence_exchange import influence_data
from plotworth.show import tornado_captions as captions
from plotworth.show import tornado_charts as charts
from risk_cases import BOOK, CORRELATIONS, TYPED, laid_out

SIX = 6.0


@pytest.fixture(scope="module")
def demo():
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def found(demo):
    return influence(demo, demo.values, *main_pair(demo), draws=8_192)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_shares_and_what_no_row_has_alone_make_up_the_whole(found) -> None:
    assert_allclose(sum(row.share for row in found.shares) + found.rest, 1.0, rtol=1e-12)
    shares = [row.share for row in found.shares]
    assert shares == sorted(shares, reverse=True)
    # prices, distances and yields enter nearly as sums of products: single rows make almost all of the spread
    assert -0.1 < found.rest < 0.2


def test_a_share_is_the_variance_with_all_other_ranges_closed(demo, found) -> None:
    """Near enough for a case that is almost a sum of its rows: a second way to the share."""
    system, reference = main_pair(demo)
    whole = drawn_sample(demo, demo.values, draws=8_192).difference(system, reference).var()
    for row in found.shares[:4]:
        plan = draw_plan(demo, worked_out(demo, demo.values), seed=1, events=NO_EVENTS, only={row.address})
        block = draw_block(plan, 0, 8_192)
        npv = net_present_values(demo.structure, block.values, block.shocks)
        alone = float((npv[system] - npv[reference]).var()) / whole
        # errors of the share, of both variances, and a tenth for what rows do together
        assert_allclose(row.share, alone, atol=SIX * row.error, rtol=0.1)


def test_the_draws_kept_are_those_of_the_seed_and_hold_every_row_that_varies(demo) -> None:
    one, same, other = (drawn_sample(demo, demo.values, draws=500, seed=seed) for seed in (3, 3, 4))
    np.testing.assert_array_equal(one.drawn, same.drawn)
    assert (one.drawn != other.drawn).any()
    assert (np.ptp(one.drawn, axis=1) > 0).all()
    assert one.outcomes.shape == (3, 500)


def test_no_choice_has_a_share_or_a_value_of_knowing(demo, found) -> None:
    choices = {at for at, one in demo.inputs.items() if one.nature == "choice"}
    assert not choices & {row.address for row in found.shares}
    assert not choices & {row.address for row in found.worth}


def test_what_a_row_is_worth_never_passes_what_everything_is_worth(found) -> None:
    most = found.everything.value + SIX * found.everything.error
    assert all(0.0 <= row.worth.value <= most for row in found.worth)
    assert found.season is not None
    assert found.season.value <= most
    assert found.seasons == 1


def test_the_value_of_knowing_a_yield_agrees_with_nested_simulation_of_the_case(tmp_path) -> None:
    """The yield held at forty values in turn, all else drawn 8,192 times at each: the inner means without any bins."""
    head, *rest = BOOK.splitlines()
    lines = [f"{head},nature", *(f"{line},{'constant' if line.startswith('yield') else ''}" for line in rest)]
    layout = laid_out(tmp_path, {**TYPED, "assumptions.csv": "\n".join([*lines, ""])})
    values = worked_out(layout, {**layout.values, "market_price_per_kg/tank/pepper": cell(0.42)})
    address = "yield_kg_per_m2/tank/pepper"
    (told,) = (row.worth for row in influence(layout, values, "tank", "hand").worth if row.address == address)
    plan = draw_plan(layout, values, seed=5, events=ALL_EVENTS)
    row = next(row for row in plan.rows if row.address == address)
    others = set(plan.addresses) - {address}
    means = []
    for held in row.at((np.arange(40) + 0.5) / 40):
        inner = draw_plan(layout, {**values, address: cell(float(held))}, seed=5, events=ALL_EVENTS, only=others)
        block = draw_block(inner, 0, 8_192)
        npv = net_present_values(layout.structure, block.values, block.shocks)
        means.append([npv["tank"].mean(), npv["hand"].mean()])
    nested = np.max(means, axis=1).mean() - np.mean(means, axis=0).max()
    assert nested > 2.0
    assert abs(told.value - nested) < SIX * told.error
    assert told.error < 0.2 * nested


def test_a_case_without_a_trial_has_no_season_to_add_and_one_without_ranges_nothing_to_know(tmp_path) -> None:
    layout = laid_out(tmp_path)
    typed = influence(layout, layout.values, "tank", "hand", draws=1_000)
    assert typed.season is None
    assert not any(row["name"].startswith("One more season") for row in worth_rows(typed))


def test_closed_events_leave_the_rows_to_explain_all(tmp_path) -> None:
    layout = laid_out(tmp_path)
    with_luck = influence(layout, layout.values, "tank", "hand", draws=16_384)
    without = influence(layout, layout.values, "tank", "hand", draws=16_384, events=NO_EVENTS)
    assert without.rest < with_luck.rest
    assert without.everything.value <= with_luck.everything.value + SIX * with_luck.everything.error


def test_correlated_rows_are_said_to_be_so(tmp_path) -> None:
    layout = laid_out(tmp_path, TYPED, **{"correlations.csv": CORRELATIONS})
    told = influence(layout, layout.values, "tank", "hand", draws=1_000)
    assert told.is_correlated
    assert any("correlated" in note for note in influence_notes(told))


def test_sentences_say_what_moves_it_what_it_rests_on_and_what_is_worth_knowing(found) -> None:
    groups = {group.heading: plain(" ".join(group.sentences)) for group in influence_groups(found)}
    assert list(groups) == ["what moves it", "what it rests on", "what would be worth knowing"]
    assert groups["what moves it"].startswith("Distance to the source moves NPV of Wick-fed tank less that of Well")
    assert "from judged rows" in groups["what it rests on"]
    assert "Knowing everything before choosing would be worth XTS" in groups["what would be worth knowing"]


def test_a_season_that_would_be_worth_something_is_told_with_its_money(found) -> None:
    worth = replace(found, season=Worth(42.0, 1.0), seasons=2)
    told = plain(" ".join(influence_groups(worth)[2].sentences))
    assert "beside the 2 seasons it has had, would be worth XTS 42" in told
    assert any("falls to 2 in 3" in plain(note) for note in influence_notes(worth))


def test_the_json_holds_every_bar_and_no_number_that_json_lacks(found) -> None:
    data = json.loads(json.dumps(influence_data(found), allow_nan=False))
    assert len(data["bars"]) == len(found.tornado.bars)
    assert data["bars"][0]["address"] == found.tornado.bars[0].input.address
    assert data["value_of_knowing"]["trial_seasons"] == 1
    assert data["base"] == found.tornado.base


def test_the_page_of_risk_asks_the_three_questions(tmp_path) -> None:
    folder = tmp_path / "case"
    laid_out(tmp_path)
    page = run("risk", str(folder), "--draws", "200").out
    for heading in ("WHAT MOVES IT", "WHAT IT RESTS ON", "WHAT WOULD BE WORTH KNOWING"):
        assert f"\n{heading}\n" in page
    told = json.loads(run("risk", str(folder), "--draws", "200", "--json").out)
    assert told["influence"]["system"] == "tank"


def drawn(found):
    rows = (tornado_rows(found), share_rows(found), worth_rows(found), evidence_rows(found))
    made = (
        (charts.tornado_chart(len(rows[0]), currency="XTS", title=compared(found)), charts.tornado_data(rows[0])),
        (charts.share_chart(len(rows[1])), charts.share_data(rows[1])),
        (charts.worth_chart(len(rows[2]), currency="XTS"), charts.worth_data(rows[2], "XTS")),
        (charts.evidence_chart(len(rows[3])), charts.evidence_data(rows[3])),
    )
    return rows, made


def named(spec) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


def test_charts_draw_the_data_laid_out_for_them_and_their_tables_name_its_columns(found) -> None:
    _, made = drawn(found)
    for chart, data in made:
        spec = chart.to_dict()
        assert named(spec) == set(data)
        assert spec["width"] == "container"
        for table in spec["usermeta"]["plotworth"]["tables"]:
            assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])


def test_titles_state_the_message_and_spoken_texts_hold_every_row(found) -> None:
    (bars, shares, worth, grades), _ = drawn(found)
    assert captions.tornado_title(bars).startswith("Distance to the source moves it most")
    assert all(row["name"] in captions.tornado_text(bars, compared(found), "XTS") for row in bars)
    assert "of the spread comes from: Distance to the source" in plain(captions.share_title(shares))
    assert all(row["name"] in captions.share_text_spoken(shares, compared(found)) for row in shares)
    assert all(row["name"] in captions.worth_text(worth, "XTS") for row in worth)
    assert "rests on judged rows" in captions.evidence_title(grades)
    assert all(row["grade_words"] in captions.evidence_text(grades, compared(found)) for row in grades)


def test_choices_stand_last_with_a_mark_of_their_own(found) -> None:
    rows = charts.tornado_data(tornado_rows(found, most=3))["tornado"]
    assert [row["is_choice"] for row in rows] == [False] * 3 + [True] * 2
    assert {row["mark"] for row in rows[3:]} == {charts.PLAIN}


def test_a_case_without_any_range_rests_on_nothing_that_could_be_known(tmp_path) -> None:
    layout = lay_out(plain_case(tmp_path))
    found = influence(layout, layout.values, "tank", "hand", draws=500)
    assert found.shares == found.worth == found.tornado.bars == ()
    assert found.everything == Worth(0.0, 0.0)
    told = " ".join(sentence for group in influence_groups(found) for sentence in group.sentences)
    assert "No row with a range moves NPV of Tank less that of Hand." in told


def test_an_unknown_assumption_leaves_all_of_it_unknown_and_says_so(tmp_path) -> None:
    book = BOOK.replace("commission_share,,,,0.1,0.05,0.2,", "commission_share,,,,unknown,,,")
    layout = laid_out(tmp_path, {**TYPED, "assumptions.csv": book})
    found = influence(layout, layout.values, "tank", "hand", draws=500)
    assert not found.is_known
    assert found.tornado.bars == found.tornado.not_told == ()
    (group,) = influence_groups(found)
    assert group.sentences == ("NPV of Tank less that of Hand is not known, since an assumption is unknown.",)
    assert [tornado_rows(found), share_rows(found), worth_rows(found), evidence_rows(found)] == [[], [], [], []]
    assert json.dumps(influence_data(found), allow_nan=False)
    assert captions.worth_title([], "XTS") == "What knowing would be worth is not known"
    assert captions.evidence_title([]) == "No row moves the outcome, so that it rests on none"


def test_an_unknown_assumption_of_a_case_with_a_trial_is_let_pass(demo) -> None:
    values = {**demo.values, "commission_share": cell(float("nan"))}
    found = influence(demo, values, *main_pair(demo), draws=500)
    assert found.season is not None
    assert np.isnan(found.season.value)
    assert np.isnan(found.everything.value)


def test_charts_of_a_case_in_which_nothing_moves_stay_empty(tmp_path) -> None:
    layout = laid_out(tmp_path)
    typed = influence(layout, layout.values, "tank", OWN_WORTH, draws=500)
    still = replace(typed, tornado=replace(typed.tornado, bars=(), choices=()), shares=(), worth=())
    assert captions.tornado_title(tornado_rows(still)) == "No row with a range moves the outcome"
    assert captions.share_title(share_rows(still)) == "No row alone makes the spread"
    assert charts.tornado_data([])["tornado"] == []
    assert charts.tornado_chart(0, currency="XTS", title="NPV").to_dict()
    assert "no row alone would change the choice" in captions.worth_title(worth_rows(still), "XTS")
