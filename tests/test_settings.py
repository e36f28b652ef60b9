"""case.toml: the settings read, and each fault with its line and what to write."""

import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plotworth.case.settings import read_settings
from plotworth.ground.errors import FaultsError
from small_case import FILES, changed, faults, write_case


def only_fault(folder: Path, old: str, new: str) -> str:
    (text,) = faults(folder, changed("case.toml", old, new))
    return text


def test_settings_are_read_with_their_types(tmp_path: Path) -> None:
    settings = read_settings(write_case(tmp_path))
    assert settings.area_m2 == 100.0
    assert settings.as_of == datetime.date(2026, 9, 30)
    assert [system.id for system in settings.systems] == ["tank", "hand"]
    assert settings.system("tank").treatment == "tank"
    assert settings.system("hand").cover == "none"
    assert settings.place.name == "Nowhere"
    assert settings.place.latitude_deg is None


def test_a_whole_number_serves_for_an_area(tmp_path: Path) -> None:
    assert read_settings(write_case(tmp_path, changed("case.toml", "100.0", "100"))).area_m2 == 100.0


def test_a_byte_order_mark_and_other_line_ends_are_let_pass(tmp_path: Path) -> None:
    text = "\ufeff" + FILES["case.toml"].replace("\n", "\r\n")
    assert read_settings(write_case(tmp_path, {"case.toml": text})).title == "A small case"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "area_m2 = 100.0",
            "area_m2 = 0",
            "case.toml line 6, area_m2: found '0'; must lie between 0.1 and 1e+09 m2; correct the number or its unit.",
        ),
        (
            "area_m2 = 100.0",
            "area_m2 = nan",
            "case.toml line 6, area_m2: found 'nan'; must lie between 0.1 and 1e+09 m2; "
            "correct the number or its unit.",
        ),
        (
            "horizon_years = 4",
            "horizon_years = 0",
            "case.toml line 7, horizon_years: found '0'; must lie between 1 and 60 year; "
            "correct the number or its unit.",
        ),
        (
            "horizon_years = 4",
            "horizon_years = 4.5",
            "case.toml line 7, horizon_years: found '4.5'; of another kind; write a whole number.",
        ),
        (
            "price_year = 2026",
            "price_year = 26",
            "case.toml line 4, price_year: found '26'; must lie between 1900 and 2200; correct the number or its unit.",
        ),
        (
            'name = "Nowhere"',
            "latitude_deg = 120",
            "case.toml line 12, latitude_deg: found '120'; must lie between -90 and 90 degrees; "
            "correct the number or its unit.",
        ),
        (
            "as_of = 2026-09-30",
            'as_of = "2026-09-30"',
            "case.toml line 5, as_of: found '2026-09-30'; of another kind; write a date such as 2026-03-09.",
        ),
        (
            'currency = "XTS"',
            'currency = "birr"',
            "case.toml line 3, currency: found 'birr'; must be a code of three capitals; write the ISO 4217 code.",
        ),
        (
            'title = "A small case"',
            'titel = "A small case"\ntitle = ""',
            "case.toml line 1, titel: found 'A small case'; no such setting; did you mean title.",
        ),
        (
            'today = "hand"',
            'today = "hands"',
            "case.toml line 8, today: found 'hands'; must be one of tank, hand; did you mean hand.",
        ),
        (
            'water_method = "reservoir"',
            'water_method = "reservoirs"',
            "case.toml line 17, water_method: found 'reservoirs'; must be one of reservoir, drip, hand, furrow, "
            "sprinkler, rain; did you mean reservoir.",
        ),
        (
            'id = "tank"',
            'id = "hand"',
            "case.toml line 14, id: found 'hand'; two systems have this id; give each system its own id.",
        ),
        (
            'id = "tank"',
            'id = "Big tank"',
            "case.toml line 14, id: found 'Big tank'; an id is lower-case letters, digits and _, and not 'all'; "
            "choose another id.",
        ),
        (
            'label = "Tank"\n',
            "",
            "case.toml line 13, label: the setting is missing; write label = text in quotation marks.",
        ),
        ("invented = true\n", "", "case.toml, invented: the setting is missing; write invented = true or false."),
    ],
)
def test_a_setting_that_cannot_be_meant_is_refused(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert expected in faults(tmp_path, changed("case.toml", old, new))


def test_a_near_miss_setting_is_suggested_from_those_that_are_free(tmp_path: Path) -> None:
    text = only_fault(tmp_path, "horizon_years = 4", "horizon_years = 4\nyields_from = 'counts'")
    assert text.endswith("no such setting; did you mean yield_from.")


def test_all_faults_of_the_file_come_together(tmp_path: Path) -> None:
    files = changed("case.toml", 'question = "Is the tank better than the can?"\ncurrency = "XTS"\n', "curency = 1\n")
    texts = faults(tmp_path, files)
    assert [text.split(":")[0] for text in texts] == [
        "case.toml line 2, curency",
        "case.toml, question",
        "case.toml, currency",
    ]


def test_a_case_without_systems_is_refused(tmp_path: Path) -> None:
    start = FILES["case.toml"].split("[place]")[0]
    remedy = "write [[systems]] and below it id and label"
    expected = f"case.toml line 11, systems: each system is a table of its own; {remedy}."
    assert faults(tmp_path, {"case.toml": f"{start}systems = []\n"}) == [expected]


def test_systems_that_are_no_tables_are_refused(tmp_path: Path) -> None:
    start = FILES["case.toml"].split("[place]")[0]
    texts = faults(tmp_path, {"case.toml": f'{start}systems = ["tank", 1]\n'})
    assert ["found 'tank'" in texts[0], "found '1'" in texts[1]] == [True, True]
    assert all("each system is a table of its own" in text for text in texts)


def test_a_line_that_is_no_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    assert only_fault(tmp_path, "area_m2 = 100.0", "area_m2 = 100,5") == (
        "case.toml line 6: found 'area_m2 = 100,5'; not TOML that can be read; write name = value; text stands in "
        '"quotation marks", numbers have a decimal point, dates are 2026-03-09.'
    )


def test_settings_in_another_encoding_are_refused_by_name(tmp_path: Path) -> None:
    raw = FILES["case.toml"].replace("Nowhere", "Tolède").encode("cp1252")
    (text,) = faults(tmp_path, {"case.toml": raw})
    assert text.startswith("case.toml line 12: found ")
    assert "looks like cp1252" in text


LINES = FILES["case.toml"].splitlines(keepends=True)
PIECES = st.one_of(st.sampled_from(LINES), st.text(max_size=20), st.sampled_from(["a = [", "[systems]\n", "x = 1\n"]))


@settings(deadline=None)
@given(st.one_of(st.text(), st.lists(PIECES, max_size=25).map("".join)))
def test_whatever_the_file_holds_it_is_settings_or_faults(tmp_path_factory, text: str) -> None:
    folder = tmp_path_factory.getbasetemp() / "any_settings"
    folder.mkdir(exist_ok=True)
    (folder / "case.toml").write_bytes(text.encode())
    try:
        settings = read_settings(folder)
    except FaultsError:
        return
    assert settings.systems


@settings(deadline=None)
@given(st.sampled_from(LINES), st.sampled_from(["1", "-1.5", "true", '""', "[]", "{}", "2026-01-01", "inf", "[1]"]))
def test_a_setting_of_any_other_kind_gives_settings_or_faults(tmp_path_factory, line: str, value: str) -> None:
    folder = tmp_path_factory.getbasetemp() / "any_value"
    text = FILES["case.toml"].replace(line, f"{line.split('=')[0]}= {value}\n" if "=" in line else "")
    try:
        settings = read_settings(write_case(folder, {"case.toml": text}))
    except FaultsError:
        return
    assert settings.systems


def test_two_systems_with_one_label_are_refused(tmp_path: Path) -> None:
    text = str(FILES["case.toml"])
    labels = [line for line in text.splitlines() if line.startswith("label = ")]
    (found,) = faults(tmp_path, {"case.toml": text.replace(labels[1], labels[0])})
    assert "two systems have this label; give each system a label of its own" in found
