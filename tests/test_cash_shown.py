"""Cash by month as people and programs get it: page, JSON, tables, charts and their words."""

import json
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from cash_cases import GRANT, LABOUR, LOAN, WAGES, with_tables
from folders import DEMO, run
from plain_case import plain_case
from plotworth.choose.appraise import appraise
from plotworth.choose.cash_months import CaseCash, cash_by_month
from plotworth.choose.cash_rows import balance_rows, calendar_rows, labour_rows, month_name
from plotworth.choose.cash_summary import cash_summaries
from plotworth.choose.cash_table import calendar_table, cash_notes, kind_tables, month_tables, summary_table
from plotworth.report.cash_exchange import cash_data
from plotworth.report.page import WIDTH
from plotworth.show import cash_captions as captions
from plotworth.show import cash_charts as charts

SYSTEMS = {"tank": "Tank", "hand": "Hand"}


@pytest.fixture(scope="module")
def cash(tmp_path_factory: pytest.TempPathFactory) -> CaseCash:
    book = {**WAGES, "hours_at_hand_per_month": 8.0}
    folder = tmp_path_factory.mktemp("case")
    appraisal = appraise(plain_case(folder, book=book, labour=LABOUR, settings=with_tables(LOAN + GRANT)))
    return cash_by_month(appraisal.layout, appraisal.values)


def months_of(cash: CaseCash) -> list[str]:
    first = cash.systems["tank"]
    return [month_name(first.calendar_month(place)) for place in range(1, 13)]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def made(cash: CaseCash) -> list[tuple[Any, charts.Datasets]]:
    labour = labour_rows(cash)
    own = [row for row in labour if row["system"] == "tank"]
    return [
        (
            charts.balance_chart(SYSTEMS, currency="XTS", last_month=36),
            charts.balance_data(balance_rows(cash, with_financing=True)),
        ),
        (
            charts.calendar_chart(SYSTEMS, months_of(cash), currency="XTS"),
            charts.calendar_data(calendar_rows(cash)),
        ),
        (charts.labour_chart(months_of(cash)), charts.labour_data(own, reach=charts.labour_reach(labour))),
    ]


def named(spec: dict[str, Any]) -> set[str]:
    inner = [named(layer) for layer in spec.get("layer", [])]
    return set().union(*inner, [spec["data"]["name"]] if "name" in spec.get("data", {}) else [])


# --- page and JSON ---------------------------------------------------------------------------------


def test_the_command_prints_a_page_that_fits_and_marks_invented_data() -> None:
    ran = run("cash", str(DEMO))
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= WIDTH
    for words in (
        "INVENTED DATA",
        "CASH BEFORE AND AFTER FINANCING",
        "1: February, year 1",
        "36: January, year 3",
        "lean",
    ):
        assert words in ran.out


def test_the_json_closes_month_by_month_and_gives_every_null_its_why() -> None:
    data = json.loads(run("cash", str(DEMO), "--json").out)
    for name, system in data["systems"].items():
        balance = 0.0
        for month in system["months"]:
            assert_allclose(month["opening"], balance, atol=1e-9)
            balance += sum(month["flows"].values()) + sum(month["financing"].values())
            assert_allclose(month["closing"], balance, atol=1e-9)
        missing = [key for key, value in system["summary"].items() if value is None]
        assert all(data["why"][f"systems/{name}/summary/{key}"] for key in missing)
        assert [len(system[key]) for key in ("months", "normal_year", "labour")] == [37, 12, 12]


def test_years_of_the_json_are_its_months_added_up(cash: CaseCash) -> None:
    system = cash_data(appraise(cash.layout.case), cash)["systems"]["tank"]
    for year in (1, 2, 3):
        months = system["months"][12 * year - 11 : 12 * year + 1]
        assert_allclose(sum(sum(month["flows"].values()) for month in months), system["years"]["before"][year])


def test_an_unknown_number_is_null_with_a_reason(tmp_path: Path) -> None:
    appraisal = appraise(plain_case(tmp_path, book={"market_price_per_kg/all/pepper": "unknown"}))
    data = cash_data(appraisal, cash_by_month(appraisal.layout, appraisal.values))
    assert data["systems"]["tank"]["summary"]["npv_cash"] is None
    assert data["why"]["systems/tank/summary/npv_cash"] == "an assumption is unknown"
    json.dumps(data, allow_nan=False)


# --- tables ----------------------------------------------------------------------------------------


def test_a_table_of_months_ends_in_the_balances_of_the_rows_behind_it(cash: CaseCash) -> None:
    (table, _) = month_tables(cash)
    assert len(table.rows) == 37
    assert table.rows[0].label == "0: investment"
    assert table.rows[0].cells == ("0", "−30", "45", "15")  # 30 spent, 30 lent and half of 30 given


def test_the_table_of_kinds_leaves_out_what_never_moves(cash: CaseCash) -> None:
    labels = [row.label for row in kind_tables(cash)[1].rows]  # the hand has no capital, financing or hired work
    assert labels == ["Sales", "Inputs of the season"]


def test_the_summary_names_lean_months_and_dashes_what_has_no_value(cash: CaseCash) -> None:
    rows = {row.label: row.cells for row in summary_table(cash, cash_summaries(cash)).rows}
    assert rows["Lean months of a normal year"][0].startswith("Feb")
    assert rows["Largest loan with no month below zero"][1] == "–"
    assert [cell.endswith("lean") for cell in (row.cells[0] for row in calendar_table(cash).rows)].count(True) == 3


def test_the_notes_say_what_months_follow_and_what_nominal_loans_lack(cash: CaseCash) -> None:
    notes = " ".join(cash_notes(cash, cash_summaries(cash)))
    assert "no working capital is laid out: the months show what it stands for" in notes
    assert "Tank, dry: sales follow evenly over the second half of the season; water follows evenly" in notes
    assert "inflation_rate" in notes


# --- charts ----------------------------------------------------------------------------------------


def test_charts_draw_the_data_sets_laid_out_for_them_and_their_tables_have_their_columns(cash: CaseCash) -> None:
    for chart, data in made(cash):
        spec = chart.to_dict()
        assert named(spec) | {"labour"} & set(data) == set(data)  # hours by month are there for the table
        for table in spec["usermeta"]["plotworth"]["tables"]:
            assert {key for key, _ in table["columns"]} <= set(data[table["name"]][0])
        assert spec["width"] == "container"
        assert "resolve" not in spec
        assert any(unit in json.dumps(spec) for unit in ("[XTS]", "[hour a month]"))


def test_the_deepest_month_of_each_system_is_marked_once_and_only_below_zero(cash: CaseCash) -> None:
    rows = balance_rows(cash, with_financing=False)
    deepest = [(row["system"], row["month"]) for row in rows if row["deepest"]]
    assert [system for system, _ in deepest] == ["tank", "hand"]
    lowest = min((row for row in rows if row["system"] == "tank"), key=lambda row: float(row["closing"]))
    assert deepest[0][1] == lowest["month"]


def test_titles_say_the_message_of_the_rows(cash: CaseCash) -> None:
    rows = balance_rows(cash, with_financing=False)
    assert captions.balance_title(rows, "XTS").startswith("Deepest balance: Tank")
    assert "Hand: lowest" in captions.balance_text(rows, "XTS")
    above = [{**row, "closing": 1.0} for row in rows]
    assert captions.balance_title(above, "XTS") == "No balance falls below zero in the months shown"
    calendar = calendar_rows(cash)
    assert captions.calendar_title(calendar).startswith("Lean months of a normal year")
    assert "Tank: lean in February" in captions.calendar_text(calendar, "XTS")


def test_the_title_of_labour_holds_the_peak_against_the_hours_at_hand(cash: CaseCash) -> None:
    own = [row for row in labour_rows(cash) if row["system"] == "tank"]
    # family hours 9 in February and 16 in May, of 8 at hand
    assert captions.labour_title(own) == "Tank: 16 family hours in May, above the 8 at hand; short in February and May"
    enough = [{**row, "at_hand": 20.0, "short": 0.0} for row in own]
    assert captions.labour_title(enough) == "Tank: 16 family hours in May at most, within the 20 at hand"
    unstated = [{**row, "at_hand": float("nan"), "short": float("nan")} for row in own]
    assert captions.labour_title(unstated).endswith("hours at hand are not stated")
    assert "May 16 family and 15 hired" in captions.labour_text(own)
