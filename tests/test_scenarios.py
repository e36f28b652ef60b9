"""Scenarios: saved and read back, judged with all faults at once, never a word of the book changed. Values invented."""

import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from folders import bytes_of, run
from plotworth.case.folder import open_case
from plotworth.case.scenarios import (
    Scenario,
    check_scenarios,
    file_of,
    read_scenario,
    read_scenarios,
    save_scenario,
    scenario_faults,
    scenario_names,
    scenario_text,
)
from plotworth.choose.input import Input
from plotworth.choose.inputs import lay_out
from plotworth.ground.errors import CaseError, FaultsError
from small_case import write_case

PRICE, RATE = "market_price_per_kg/all/pepper", "discount_rate"
DAY = datetime.date(2026, 10, 2)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_case(tmp_path / "case")


@pytest.fixture
def inputs(folder: Path) -> dict[str, Input]:
    return dict(lay_out(open_case(folder)).inputs)


def dear(inputs: dict[str, Input]) -> Scenario:
    told = Scenario("dear-pepper", "Dear pepper", {})
    told = told.with_value(PRICE, 0.8, inputs=inputs, who="the analyst", when=DAY, why='a "good" year: é')
    told = told.with_value(PRICE, 0.9, inputs=inputs, who="the analyst", when=DAY, why="seen in May")
    return told.with_value("area_m2", 250, inputs=inputs, who="the grower", when=DAY, why="more land")


def test_a_scenario_comes_back_as_it_was_saved_and_its_log_says_old_and_new(
    folder: Path, inputs: dict[str, Input]
) -> None:
    saved = dear(inputs)
    assert save_scenario(folder, saved) == folder / "scenarios" / "dear-pepper.toml"
    assert read_scenario(folder, "dear-pepper") == saved
    assert [(c.address, c.old, c.new) for c in saved.log] == [
        (PRICE, 0.5, 0.8),  # 0.5 stands in the small case's book
        (PRICE, 0.8, 0.9),
        ("area_m2", 100.0, 250.0),
    ]


def test_an_address_left_to_the_book_again_is_logged_too(folder: Path, inputs: dict[str, Input]) -> None:
    back = dear(inputs).without(PRICE, inputs=inputs, who="the analyst", when=DAY, why="too bold")
    assert back.values == {"area_m2": 250.0}
    assert (back.log[-1].old, back.log[-1].new) == (0.9, None)
    save_scenario(folder, back)
    assert read_scenario(folder, back.name) == back


def test_an_open_case_lists_its_scenarios_and_nothing_else_of_it_changes(
    folder: Path, inputs: dict[str, Input]
) -> None:
    before, book = bytes_of(folder), open_case(folder).book.text()
    assert open_case(folder).scenarios == ()
    save_scenario(folder, dear(inputs))
    save_scenario(folder, Scenario("a2", "Two", {}))
    assert open_case(folder).scenarios == ("a2", "dear-pepper")
    assert open_case(folder).book.text() == book
    assert {name: text for name, text in bytes_of(folder).items() if "scenarios" not in str(name)} == before


def test_every_fault_of_a_scenario_comes_at_once_with_a_near_address(inputs: dict[str, Input]) -> None:
    wrong = Scenario("wrong", "", {"market_price_per_kg/all/peper": 1.0, RATE: 10.0, "area_m2": float("nan")})
    texts = [fault.text() for fault in scenario_faults(wrong, inputs)]
    assert texts == [
        "scenarios/wrong.toml, market_price_per_kg/all/peper: found 'market_price_per_kg/all/peper'; no input of the "
        f"case has this address; did you mean {PRICE}.",
        "scenarios/wrong.toml, discount_rate: found '10'; must lie between 0 and 1 share/year; "
        "write 0.1 if 10 % is meant.",
        "scenarios/wrong.toml, area_m2: found 'nan'; not a number; write a number, or leave the address out.",
    ]


def test_a_value_that_the_case_works_out_is_not_replaced(tmp_path: Path) -> None:
    rows = "carrying_h_per_m3,,,,computed,,,hour/m3,invented,,D\n" + "".join(
        f"{name},,,,{value},,,{unit},invented,,D\n"
        for name, value, unit in (
            ("carry_distance_m", 100, "m"),
            ("carry_load_l", 20, "l"),
            ("carry_pace_km_per_h", 4, "km/hour"),
            ("carry_fill_pour_min", 5, "min"),
            ("family_wage_per_hour", 0.1, "XTS/hour"),
            ("hired_wage_per_hour", 0.1, "XTS/hour"),
        )
    )
    from small_case import FILES

    case = open_case(write_case(tmp_path, {"assumptions.csv": FILES["assumptions.csv"] + rows}))
    inputs = lay_out(case).inputs
    worked_out = [at for at, one in inputs.items() if one.origin == "computed"]
    assert worked_out
    (fault,) = scenario_faults(Scenario("s", "", {worked_out[0]: 1.0}), inputs)
    assert "works this value out from others" in fault.text()


FORMS = {
    "not TOML": ("title = ", "not TOML that can be read"),
    "another part": ("vlues = 1", "did you mean values"),
    "a text for a number": ('[values]\n"discount_rate" = "0.1"', "line 2, discount_rate: found '0.1'; not a number"),
    "an address in pieces": ("[values]\na.b = 1.0", "write the address in quotation marks"),
    "values that are none": ("values = 3", "write [values]"),
    "a log that is none": ("log = 3", "write [[log]]"),
    "a change without who": ('[[log]]\nwhen = 2026-01-01\naddress = "a"\nwhy = "b"', "who is missing"),
    "a change on no day": (
        '[[log]]\nwho = "x"\nwhen = "May"\naddress = "a"\nwhy = "b"',
        "log entry 1, when: found 'May'; of another kind; a date such as 2026-03-09",
    ),
    "a change with more": (
        '[[log]]\nwho = "x"\nwhen = 2026-01-01\naddress = "a"\nwhy = "b"\nmood = 1',
        "no part of a change",
    ),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_file_that_is_not_as_a_scenario_is_written_is_refused_with_the_remedy(folder: Path, form: str) -> None:
    text, said = FORMS[form]
    (folder / "scenarios").mkdir()
    (folder / file_of("s")).write_text(text, encoding="utf-8")
    with pytest.raises(FaultsError) as caught:
        read_scenarios(folder)
    assert said in str(caught.value)
    assert open_case(folder).scenarios == ("s",)


def test_the_faults_of_all_scenarios_come_together_with_their_lines(folder: Path, inputs: dict[str, Input]) -> None:
    save_scenario(folder, Scenario("one", "One", {RATE: 5.0}))
    save_scenario(folder, Scenario("two", "Two", {"nothing": 1.0}))
    with pytest.raises(FaultsError) as caught:
        check_scenarios(folder, inputs)
    assert [(fault.file, fault.line) for fault in caught.value.faults] == [
        ("scenarios/one.toml", 4),
        ("scenarios/two.toml", 4),
    ]


@pytest.mark.parametrize("name", ["", "../book", "a/b", ".hidden", "é", "x" * 65, "a b"])
def test_a_name_that_no_file_can_have_everywhere_is_refused(folder: Path, name: str) -> None:
    before = bytes_of(folder)
    with pytest.raises(CaseError):
        save_scenario(folder, Scenario(name, "", {}))
    assert bytes_of(folder) == before


@pytest.mark.parametrize(("known", "said"), [((), "none yet"), (("dry",), "did you mean dry?"), (("a1",), "It has a1")])
def test_an_unknown_scenario_is_named_with_those_there_are(folder: Path, known: tuple[str, ...], said: str) -> None:
    for name in known:
        save_scenario(folder, Scenario(name, "", {}))
    with pytest.raises(CaseError, match=said.replace("?", r"\?")):
        read_scenario(folder, "dri")


@pytest.mark.parametrize(("who", "why"), [("", "because"), ("me", " ")])
def test_a_change_without_who_or_why_is_refused(inputs: dict[str, Input], who: str, why: str) -> None:
    with pytest.raises(FaultsError):
        Scenario("s", "", {}).with_value(RATE, 0.2, inputs=inputs, who=who, when=DAY, why=why)


WORDS = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)


@given(title=WORDS, value=st.floats(-1e12, 1e12), address=WORDS)
def test_any_text_and_number_come_back_to_the_last_digit(
    tmp_path_factory: pytest.TempPathFactory, title: str, value: float, address: str
) -> None:
    folder = tmp_path_factory.mktemp("scenario")
    told = Scenario("s", title, {address: value})
    save_scenario(folder, told)
    assert scenario_names(folder) == ("s",)
    back = read_scenario(folder, "s")
    assert back == told
    assert scenario_text(back) == scenario_text(told)


def test_check_names_the_scenarios_of_a_case_and_refuses_one_that_it_does_not_allow(
    folder: Path, inputs: dict[str, Input]
) -> None:
    save_scenario(folder, dear(inputs))
    assert "scenarios: dear-pepper" in run("check", str(folder)).out
    save_scenario(folder, Scenario("wrong", "", {RATE: 5.0}))
    ran = run("check", str(folder))
    assert (ran.code, ran.out) == (1, "")
    assert "scenarios/wrong.toml line 4, discount_rate: found '5'" in ran.err
