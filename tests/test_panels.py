"""The appraisal panel in process, without a browser: dials, what follows them, and what is said when it cannot."""

import logging
import math
from collections.abc import Iterator
from pathlib import Path

import ipywidgets as widgets
import pytest

from plain_case import plain_case
from plotworth.choose import appraise
from plotworth.choose.checks import Check
from plotworth.choose.controls import Control
from plotworth.choose.input import Input
from plotworth.ground.arrays import cell
from plotworth.ground.errors import PlotworthError
from plotworth.show.panels import panel as room
from plotworth.show.panels.appraisal import AppraisalPanel, appraisal_panel
from plotworth.show.panels.dial import Dial
from plotworth.show.panels.dial_panel import UNEXPECTED
from plotworth.show.panels.markup import cells_html, folded_html, list_html, status_html
from small_case import FILES, changed, write_case
from trial_case import trial_case

DEMO = Path(__file__).parent.parent / "data_demo"
PRICE = "market_price_per_kg/all/pepper"


@pytest.fixture
def panel(tmp_path: Path) -> Iterator[AppraisalPanel]:
    """The panel of the small case, whose price is 0.5 in a range of 0.25 to 1, at a rate of 0.05 to 0.2."""
    yield from opened(write_case(tmp_path))


def opened(folder: Path) -> Iterator[AppraisalPanel]:
    made = appraisal_panel(folder)
    assert isinstance(made, AppraisalPanel), made.value
    yield made
    made.close()


def expected(panel: AppraisalPanel, **moved: float) -> appraise.Appraisal:
    values = {**panel.case_layout.values, **{address: cell(value) for address, value in moved.items()}}
    return appraise.appraise_layout(panel.case, panel.case_layout, values)


def same(one: appraise.Appraisal, other: appraise.Appraisal) -> bool:
    return all(
        one.systems[name] == pytest.approx(figures, rel=1e-12, nan_ok=True) for name, figures in other.systems.items()
    )


def is_stale(panel: AppraisalPanel) -> bool:
    marked = ["pw-stale-text" in part._dom_classes for part in (panel.head, panel.tables)]
    assert marked == [panel.pictures.widget.stale] * 2
    return bool(panel.pictures.widget.stale)


def test_the_panel_opens_on_the_values_of_the_book(panel: AppraisalPanel) -> None:
    assert same(panel.appraisal, expected(panel))
    assert "Computed with the values of the book." in panel.status.value
    assert not is_stale(panel)


@pytest.mark.parametrize(("address", "value"), [(PRICE, 0.8), ("discount_rate", 0.12), ("area_m2", 250.0)])
def test_a_dial_that_is_set_gives_the_appraisal_with_that_value(
    panel: AppraisalPanel, address: str, value: float
) -> None:
    panel.set(address, value)
    assert same(panel.appraisal, expected(panel, **{address: value}))
    assert panel.dials[address].slider.value == panel.dials[address].box.value == value


def test_several_dials_act_together_and_are_echoed(panel: AppraisalPanel) -> None:
    panel.set(PRICE, 0.8)
    panel.set("area_m2", 250.0)
    assert same(panel.appraisal, expected(panel, **{PRICE: 0.8, "area_m2": 250.0}))
    assert "Computed with Area 250\u00a0m²," in panel.status.value
    assert "Market price of pepper 0.8\u00a0XTS/kg; all else as in the book." in panel.status.value


def test_charts_head_and_tables_follow(panel: AppraisalPanel) -> None:
    before = panel.pictures.widget.data, panel.head.value, panel.tables.value
    panel.set(PRICE, 0.8)
    after = panel.pictures.widget.data, panel.head.value, panel.tables.value
    assert all(one != other for one, other in zip(before, after, strict=True))
    ends = [row["cumulative"] for row in panel.pictures.widget.data["cash"] if row["year"] == 4]
    assert sorted(ends) == pytest.approx(sorted(figures["npv"] for figures in panel.appraisal.systems.values()))


def test_a_number_typed_into_the_box_moves_the_slider(panel: AppraisalPanel) -> None:
    panel.dials[PRICE].box.value = 0.625
    assert panel.dials[PRICE].value == panel.dials[PRICE].slider.value == 0.625
    assert same(panel.appraisal, expected(panel, **{PRICE: 0.625}))


def test_the_slider_moves_the_box(panel: AppraisalPanel) -> None:
    panel.dials[PRICE].slider.value = 0.75
    assert panel.dials[PRICE].box.value == 0.75
    assert same(panel.appraisal, expected(panel, **{PRICE: 0.75}))


def test_less_than_half_a_step_of_the_slider_is_noise(panel: AppraisalPanel) -> None:
    """A browser sets the thumb on the nearest step when it draws it, and says so."""
    dial = panel.dials[PRICE]
    dial.slider.value = 0.5 + 0.45 * dial.slider.step
    assert not dial.is_moved
    assert "Computed with the values of the book." in panel.status.value
    dial.slider.value = 0.5 + dial.slider.step
    assert dial.is_moved


def test_a_value_of_many_digits_is_kept_whole_and_shown_short(panel: AppraisalPanel) -> None:
    panel.set(PRICE, 1 / 3)
    assert panel.dials[PRICE].value == 1 / 3
    assert panel.dials[PRICE].box.value == 0.3333
    assert same(panel.appraisal, expected(panel, **{PRICE: 1 / 3}))


@pytest.mark.parametrize("value", [-0.1, 1.5, math.inf])
def test_a_value_out_of_bounds_keeps_the_last_result_greyed_with_a_sentence(
    panel: AppraisalPanel, value: float
) -> None:
    panel.set("discount_rate", 0.15)
    last = panel.appraisal
    panel.dials["discount_rate"].box.value = value
    assert panel.appraisal is last
    assert is_stale(panel)
    assert "cannot be; it must lie between 0 and 1." in panel.status.value
    assert panel.dials["discount_rate"].value == 0.15


def test_an_emptied_box_is_no_value(panel: AppraisalPanel) -> None:
    panel.set("discount_rate", math.nan)
    assert is_stale(panel)
    assert "Discount rate: not known cannot be" in panel.status.value


def test_another_dial_does_not_hide_a_value_that_cannot_be(panel: AppraisalPanel) -> None:
    last = panel.appraisal
    panel.set("discount_rate", 7.0)
    panel.set(PRICE, 0.75)
    assert is_stale(panel)
    assert panel.appraisal is last
    panel.set("discount_rate", 0.2)
    assert not is_stale(panel)
    assert same(panel.appraisal, expected(panel, **{PRICE: 0.75, "discount_rate": 0.2}))


def test_outside_what_the_book_believes_is_computed_with_a_warning(panel: AppraisalPanel) -> None:
    panel.set(PRICE, 3.0)
    assert same(panel.appraisal, expected(panel, **{PRICE: 3.0}))
    assert not is_stale(panel)
    warning = "Market price of pepper: 3\u00a0XTS/kg lies outside the range the book believes, 0.25 to 1."
    assert f"<div class='pw-warning'>{warning}</div>" in panel.status.value
    assert panel.dials[PRICE].slider.max == 3
    panel.set(PRICE, 0.6)
    assert "pw-warning" not in panel.status.value


def test_outside_the_trials_interval_says_whose_interval_it_is() -> None:
    one = Input("a", "Yield", "kg/m2", "yield", 4.0, 3.0, 5.0, 0.0, 1000.0, "yearly", "even", "trial", "A", "", "b", 2)
    dial = Dial(Control(one, "Yield", 2.0, 6.0))
    dial.set(5.5)
    assert dial.warning == "Yield: 5.5\u00a0kg/m² lies outside the trial's 95 % interval, 3 to 5."


def test_the_button_returns_every_dial_to_the_book(panel: AppraisalPanel) -> None:
    panel.set(PRICE, 3.0)
    panel.set("area_m2", 250.0)
    panel.set("discount_rate", -1.0)
    panel.reset.click()
    assert not any(dial.is_moved or dial.problem or dial.warning for dial in panel.dials.values())
    assert panel.dials["discount_rate"].box.value == 0.1
    assert same(panel.appraisal, expected(panel))
    assert not is_stale(panel)


def test_what_goes_wrong_inside_is_a_plain_sentence_and_stands_in_the_log(
    panel: AppraisalPanel, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    last = panel.appraisal

    def broken(*_: object) -> None:
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr(room, "appraise_layout", broken)
    with caplog.at_level(logging.ERROR, logger="plotworth"):
        panel.set(PRICE, 0.75)
    assert UNEXPECTED in panel.status.value
    assert "ZeroDivisionError" not in panel.status.value
    assert "float division by zero" in caplog.text
    assert panel.appraisal is last
    assert is_stale(panel)
    monkeypatch.undo()
    panel.set(PRICE, 0.8)
    assert not is_stale(panel)


def test_what_the_library_refuses_is_told_in_its_own_words(
    panel: AppraisalPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refusing(*_: object) -> None:
        raise PlotworthError("That is more than the well gives.")

    monkeypatch.setattr(room, "appraise_layout", refusing)
    panel.set(PRICE, 0.75)
    assert "That is more than the well gives." in panel.status.value
    assert is_stale(panel)


def test_a_master_check_that_fails_forbids_the_figures(panel: AppraisalPanel, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(appraise, "master_checks", lambda *_: (Check("kilograms conserve", False),))
    panel.set(PRICE, 0.75)
    assert "Do not use these figures: kilograms conserve fails." in panel.status.value
    assert is_stale(panel)


def test_faults_of_a_case_come_as_sentences_in_place_of_the_panel(tmp_path: Path) -> None:
    folder = write_case(tmp_path, changed("assumptions.csv", "0.1,0.05,0.2", "ten,,"))
    made = appraisal_panel(folder)
    assert type(made) is widgets.HTML
    assert "<p>The case cannot be appraised yet:</p>" in made.value
    assert "assumptions.csv line 2, discount_rate: found" in made.value
    assert "Traceback" not in made.value


def test_all_missing_assumptions_come_as_sentences_too(tmp_path: Path) -> None:
    case = plain_case(tmp_path, book={"discount_rate": None, PRICE: None})
    made = appraisal_panel(case.path)
    assert made.value.count("<li>") == 2


def test_a_folder_that_is_no_case_is_a_sentence(tmp_path: Path) -> None:
    assert "there is no such folder" in appraisal_panel(tmp_path / "nowhere").value


def test_without_a_folder_the_case_of_the_workbook_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(room.CASE_VARIABLE, str(write_case(tmp_path)))
    made = appraisal_panel()
    assert isinstance(made, AppraisalPanel)
    assert made.case.settings.title == "A small case"
    made.close()


def test_a_second_panel_closes_the_first_with_its_charts(tmp_path: Path) -> None:
    folder = write_case(tmp_path)
    first, second = appraisal_panel(folder), appraisal_panel(folder)
    assert first.comm is None
    assert first.pictures.widget.comm is None
    assert second.comm is not None
    assert second.pictures.widget.comm is not None
    second.close()


def test_words_of_the_case_are_shown_as_written_and_never_run(tmp_path: Path) -> None:
    files = {
        **changed("case.toml", 'label = "Tank"', 'label = "<b onclick=alert(1)>Tank"'),
        "costs.csv": FILES["costs.csv"].replace("tank,,tank,", "hand,,<i>tank,").replace("invented,D", "<u>me</u>,D"),
    }
    files["case.toml"] = files["case.toml"].replace("Is the tank", "<script>Is the tank")
    (made,) = opened(write_case(tmp_path, files))
    shown = [made.head, made.status, made.tables]
    shown += [part for dial in made.dials.values() for part in dial.children if isinstance(part, widgets.HTML)]
    text = "".join(part.value for part in shown)
    assert not [tag for tag in ("<b ", "<i>", "<script", "<u>") if tag in text]
    assert "&lt;b onclick=alert(1)&gt;Tank" in text
    assert "&lt;u&gt;me&lt;/u&gt;" in text
    assert not any(dial.slider.description_allow_html for dial in made.dials.values())


def test_the_helpers_of_the_markup_escape_what_they_are_given() -> None:
    bad = "<&>"
    made = [
        list_html([bad], kind="k"),
        folded_html(bad, ""),
        status_html([bad], [bad], bad),
        cells_html(bad, [(bad, True)], [[bad]]),
    ]
    assert all(bad not in text and "&lt;&amp;&gt;" in text for text in made)


def test_the_panel_of_a_case_with_an_unknown_says_what_waits_for_it(tmp_path: Path) -> None:
    (made,) = opened(plain_case(tmp_path, book={"commission_share/tank": "unknown"}).path)
    assert "cannot be said: an assumption is unknown" in made.head.value
    assert "Unknown: commission (assumptions.csv line 6)" in made.tables.value
    assert not is_stale(made)


def test_an_unknown_rate_leaves_gaps_in_the_charts_and_no_fault(tmp_path: Path) -> None:
    (made,) = opened(plain_case(tmp_path, book={"discount_rate": "unknown"}).path)
    assert "discount_rate" not in made.dials
    assert {row["cumulative"] for row in made.pictures.widget.data["cash"] if row["year"] > 0} == {None}


def test_a_case_with_a_trial_shows_its_plots_and_one_without_does_not(tmp_path: Path) -> None:
    (with_trial,) = opened(trial_case(tmp_path / "one").path)
    (without,) = opened(plain_case(tmp_path / "two").path)
    assert len(with_trial.pictures.widget.specs) == len(without.pictures.widget.specs) + 1
    assert "What the trial measured" in with_trial.tables.value
    assert "What the trial measured" not in without.tables.value


def test_a_case_of_one_system_is_set_against_itself_in_the_charts_and_nothing_else(tmp_path: Path) -> None:
    alone = {'[[systems]]\nid = "tank"\nlabel = "Tank"\nwater_method = "reservoir"\n': ""}
    seasons = ("hand,dry,pepper,2,5,1",)
    case = plain_case(
        tmp_path,
        book={"yield_kg_per_m2/tank/pepper": None},
        seasons=seasons,
        settings=alone,
        costs=("hand,,seed,seasonal,m2,1,0.1,,,",),
    )
    (made,) = opened(case.path)
    assert made.pictures.compared == ("hand", "hand")
    assert list(made.appraisal.against_today) == []


def test_the_demo_is_marked_as_invented() -> None:
    (made,) = opened(DEMO)
    assert "Invented data" in made.head.value
    made.set("area_m2", 123.0)
    assert same(made.appraisal, expected(made, area_m2=123.0))
