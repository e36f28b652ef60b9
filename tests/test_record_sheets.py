"""Record sheets: the printable page, the CSV forms, and the workbook, which once filled opens as a case."""

import csv
import datetime
import html
import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from browser import chromium
from folders import run
from plotworth.case.folder import open_case
from plotworth.case.schema import Column, table_columns
from plotworth.ground.errors import FaultsError
from plotworth.ground.glossary import GLOSSARY
from plotworth.planning import freeze_plan, plan_facts
from plotworth.report.record_forms import BLANK_RULE, CSV_FORMS, FORMS, plot_rows, plots_header, write_forms
from plotworth.report.record_sheets import record_page
from plotworth.report.record_workbook import LAST_ROW, LISTS, NOT_IN_WORKBOOK, comment, long_lists
from small_case import FILES
from trial_plans import OUTLINE, SPLIT_OUTLINE, plan

PLAN = plan(SPLIT_OUTLINE)
PAGE = record_page(PLAN, plan_facts(PLAN), invented=False)


def section(table: str) -> str:
    return PAGE.split(f"<section id='{table}'>")[1].split("</section>")[0]


class Balance(HTMLParser):
    """Collects tags that are closed out of turn."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002 - the parser's own signature
        if tag not in ("meta", "wbr"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


# --- the page -------------------------------------------------------------------------------------


def test_the_page_is_whole_and_loads_nothing_from_outside() -> None:
    balance = Balance()
    balance.feed(PAGE)
    assert (balance.open, balance.wrong) == ([], [])
    assert not re.search(r"https?:|src=|<link|<script|@import|url\(", PAGE)


def test_the_map_shows_every_plot_with_its_treatment_in_its_row() -> None:
    plots = re.findall(r"<b>(P\d+)</b><span>(.*?)</span>", PAGE)
    assert [(name, treatment.replace("<wbr>", "")) for name, treatment in plots] == [
        (plot.plot, plot.treatment) for plot in PLAN.plots
    ]
    assert f"repeat({PLAN.columns}, " in PAGE
    assert "north, uphill" in PAGE
    assert PAGE.count("class='plot guarded'") == len(PLAN.plots)
    bare = record_page(replace(PLAN, guard_rows=0, guard_plants=0), (), invented=False)
    assert "class='plot guarded'" not in bare


def test_every_sheet_says_that_blank_is_not_zero_and_has_its_columns() -> None:
    for form in FORMS:
        text = section(form.table)
        assert html.escape(BLANK_RULE) in text
        for name in form.columns:
            assert re.search(rf"<th [^>]*>{name.replace('_', ' ')}<small>", text), (form.table, name)
        assert set(form.columns) - {"block"} <= set(table_columns()[form.table])


def test_needed_columns_are_on_the_sheet_or_above_it_or_known_from_the_plan() -> None:
    known = {"crop", "net_area_m2"}
    for form in FORMS:
        needed = {column.name for column in table_columns()[form.table].values() if column.needed}
        assert needed <= {*form.columns, form.once, *known}, form.table


def test_sheets_by_plot_name_every_plot_once_and_leave_the_rest_blank() -> None:
    for form in FORMS:
        rows = re.findall(r"<tr>(.*?)</tr>", section(form.table).split("<tbody>")[1])
        named = re.findall(r"<th scope='row'>(.*?)</th>", "".join(rows))
        if form.blank_rows:
            assert (len(rows), named) == (form.blank_rows, [])
        else:
            assert named == [plot.plot for plot in PLAN.plots]
        given = {"plot", "block", "treatment"} & set(form.columns) if not form.blank_rows else set()
        assert all(row.count("<td></td>") == len(form.columns) - len(given) for row in rows)


def test_the_picking_sheet_keeps_the_treatment_from_whoever_sorts_the_fruit() -> None:
    assert not any(treatment in section("harvests") for treatment in PLAN.treatments)


def test_words_of_the_user_are_escaped_and_invented_data_is_marked() -> None:
    page = record_page(replace(PLAN, question="<b>a & b</b>", gradient_from="<door>"), ("1 < 2",), invented=True)
    assert "<b>a" not in page
    assert "&lt;b&gt;a &amp; b&lt;/b&gt;" in page
    assert "&lt;door&gt;" in page
    assert "1 &lt; 2" in page
    assert "INVENTED DATA" in page
    assert "INVENTED DATA" not in PAGE


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_the_page_is_no_wider_than_the_screen_and_each_sheet_prints_on_a_page(tmp_path: Path, width: int) -> None:
    (tmp_path / "page.html").write_text(PAGE, encoding="utf-8")
    with chromium() as browser:
        page = browser.new_page(viewport={"width": width, "height": 900})
        page.goto((tmp_path / "page.html").as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") == width
        cut = "[...document.querySelectorAll('.net')].filter(box => box.scrollWidth > box.clientWidth).length"
        assert page.evaluate(cut) == 0
        printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1 + len(FORMS)


# --- CSV forms ------------------------------------------------------------------------------------


def test_csv_forms_have_the_columns_of_the_tables_and_the_plots_names(tmp_path: Path) -> None:
    rows, header = plot_rows(PLAN, plants=12, net_area_m2=3.6), plots_header(PLAN)
    assert write_forms(tmp_path, rows, header) == [f"{table}.csv" for table in CSV_FORMS]
    for table in CSV_FORMS:
        with (tmp_path / f"{table}.csv").open(encoding="utf-8", newline="") as lines:
            reader = csv.DictReader(lines)
            found = list(reader)
        expected = list(header) if table == "plots" else list(table_columns()[table])
        assert reader.fieldnames == expected
        if table not in ("labour", "inputs"):
            assert [row["plot"] for row in found] == [plot.plot for plot in PLAN.plots]
    assert "factor_inoculation" in header


# --- the workbook ---------------------------------------------------------------------------------

DAY = datetime.date(2026, 4, 1)
ROWS: dict[str, list[dict[str, Any]]] = {  # invented
    "seasons": [
        {"system": name, "season": "dry", "crop": "pepper", "first_month": 2, "months": 5, "share_of_area": 1}
        for name in ("tank", "hand")
    ],
    "costs": [
        {
            "item": "seed",
            "group": "seasonal",
            "basis": "m2",
            "quantity": 1,
            "unit_price": 0.1,
            "source": "invented",
            "grade": "D",
        }
    ],
    "assumptions": [
        {"name": name, "value": value, "unit": unit, "source": "invented", "grade": "D"}
        for name, value, unit in (
            ("discount_rate", 0.1, "share/year"),
            ("yield_kg_per_m2", 2, "kg/m2"),
            ("market_price_per_kg", 0.5, "XTS/kg"),
        )
    ],
    "harvests": [
        {"date": DAY, "plot": "P01", "marketable_fruits": 40, "marketable_kg": 4.5, "plants_alive": 12},
        {"date": DAY, "plot": "P02", "marketable_fruits": 0, "marketable_kg": 0, "plants_alive": 11},
    ],
    "water": [{"date": DAY, "plot": "P01", "kind": "refill", "litres": 80.5}],
    "labour": [{"date": DAY, "task": "picking", "person_minutes": 60, "family": "yes"}],
    "deviations": [{"date": DAY, "plot": "P02", "who": "A", "what": "hail", "why": "weather", "exclude": "no"}],
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A new case with its workbook and a frozen plan; its settings are those of the small case."""
    ran = run("new", str(tmp_path / "mine"), "--xlsx")
    assert (ran.code, ran.err) == (0, "")
    (tmp_path / "mine" / "case.toml").write_text(FILES["case.toml"], encoding="utf-8")
    freeze_plan(tmp_path / "mine", PLAN)
    return tmp_path / "mine"


def fill(folder: Path, rows: dict[str, list[dict[str, Any]]]) -> None:
    """Write rows into the sheets as a person would, below their headings, and the day of planting beside each plot."""
    book = load_workbook(folder / "tables.xlsx")
    for table, entries in rows.items():
        sheet = book[table]
        sheet.delete_rows(2, sheet.max_row)
        heading = {cell.value: cell.column for cell in sheet[1]}
        for line, entry in enumerate(entries, start=2):
            for name, value in entry.items():
                sheet.cell(line, heading[name], value)
    heading = {cell.value: cell.column for cell in book["plots"][1]}
    for line in range(2, len(PLAN.plots) + 2):
        book["plots"].cell(line, heading["planted_on"], datetime.date(2026, 2, 1))
    book.save(folder / "tables.xlsx")


def test_the_workbook_has_a_sheet_a_table_with_its_columns_and_a_frozen_heading(folder: Path) -> None:
    book = load_workbook(folder / "tables.xlsx")
    tables = [table for table in table_columns() if table not in NOT_IN_WORKBOOK]
    assert [name for name in book.sheetnames if name in table_columns()] == tables
    assert book[LISTS].sheet_state == "hidden"
    for table in tables:
        columns = list(table_columns()[table])
        assert [cell.value for cell in book[table][1]][: len(columns)] == columns
        assert book[table].freeze_panes == "A2"
        for cell, column in zip(book[table][1], table_columns()[table].values(), strict=False):
            assert cell.comment.text == comment(column)


def rules(book: Workbook, table: str) -> dict[str, Any]:
    """The validation of each column of a sheet, by the column's name."""
    found = {}
    for rule in book[table].data_validations.dataValidation:
        cells = str(rule.sqref)
        letter = re.match(r"[A-Z]+", cells)[0]
        assert cells == f"{letter}2:{letter}{LAST_ROW + 1}"
        found[book[table][f"{letter}1"].value] = rule
    return found


def columns_of_all() -> Iterator[tuple[str, Column]]:
    for table, columns in table_columns().items():
        if table not in NOT_IN_WORKBOOK:
            yield from ((table, column) for column in columns.values())


def test_every_bound_and_closed_list_of_the_tables_is_built_into_its_cells(folder: Path) -> None:
    book = load_workbook(folder / "tables.xlsx")
    by_table = {table: rules(book, table) for table in book.sheetnames if table in table_columns()}
    for table, column in columns_of_all():
        rule = by_table[table].get(column.name)
        if column.kind in ("number", "whole"):
            assert rule.type == ("whole" if column.kind == "whole" else "decimal")
            assert float(rule.formula1) == max(column.lowest, -9.99e307), (table, column.name)
            assert float(rule.formula2) == min(column.highest, 9.99e307), (table, column.name)
        elif column.kind == "date":
            assert (rule.type, rule.formula1, rule.formula2) == ("date", "1", "109939")  # 1900-01-01 to 2200-12-31
        elif column.kind == "choice":
            assert tuple(offered(book, rule)) == column.choices
        elif column.name == "plot" and table != "plots":
            assert rule.formula1.lstrip("=") == "'plots'!$A$2:$A$1001"
    assert book["plots"]["A1"].value == "plot"
    assert set(offered(book, by_table["assumptions"]["name"])) == {t.name for t in GLOSSARY.values() if t.is_assumption}


def offered(book: Workbook, rule: Any) -> list[str]:
    """The words that a drop-down offers: written in the rule or standing in the hidden sheet."""
    source = rule.formula1.lstrip("=")
    if source.startswith('"'):
        return source.strip('"').split(",")
    area = source.split("!")[1].replace("$", "")
    return [cell.value for (cell,) in book[LISTS][area]]


def test_lists_too_long_for_a_rule_stand_in_the_hidden_sheet() -> None:
    assert ("assumptions", "name") in long_lists()
    for table, column in columns_of_all():
        assert ((table, column.name) in long_lists()) == (
            len(",".join(column.choices)) > 255 or (table, column.name) == ("assumptions", "name")
        )


def test_a_filled_workbook_opens_as_a_case_with_its_plan(folder: Path) -> None:
    fill(folder, ROWS)
    case = open_case(folder)
    assert case.plan == PLAN
    assert list(case.table("plots")["plot"]) == [plot.plot for plot in PLAN.plots]
    assert list(case.table("plots")["factor_inoculation"]) == [plot.levels[1] for plot in PLAN.plots]
    assert list(case.table("harvests")["marketable_kg"]) == [4.5, 0.0]
    assert case.table("harvests")["date"].dt.date.tolist() == [DAY, DAY]
    assert case.table("water")["litres"].tolist() == [80.5]
    assert any(notice.startswith("tables.xlsx[deviations]: 1 deviation noted") for notice in case.notices)
    assert run("check", str(folder)).code == 0


@pytest.mark.parametrize(
    ("table", "change", "told"),
    [
        (
            "harvests",
            {"plot": "P99"},
            "tables.xlsx[harvests] line 2, plot: found 'P99'; tables.xlsx[plots] has no such",
        ),
        ("harvests", {"marketable_fruits": -1}, "line 2, marketable_fruits: found '-1'; must lie between 0 and 1e+07"),
        ("harvests", {"marketable_fruits": 2.5}, "line 2, marketable_fruits: found '2.5'; must be a whole number"),
        ("water", {"kind": "rian"}, "line 2, kind: found 'rian'; must be one of first_fill"),
        ("labour", {"family": "maybe"}, "line 2, family: found 'maybe'; must be one of yes, no"),
        ("deviations", {"exclude": None}, "tables.xlsx[deviations] line 2, exclude: must not be blank"),
        ("harvests", {"date": datetime.date(2026, 1, 15)}, "the date lies before the plot was planted"),
    ],
)
def test_a_filled_workbook_passes_through_the_same_checks(
    folder: Path, table: str, change: dict[str, Any], told: str
) -> None:
    rows = {name: [dict(entry) for entry in entries] for name, entries in ROWS.items()}
    rows[table][0] |= change
    fill(folder, rows)
    with pytest.raises(FaultsError) as caught:
        open_case(folder)
    assert told in str(caught.value)


def test_the_plan_is_written_into_a_workbook_that_is_partly_filled_and_leaves_the_rest(tmp_path: Path) -> None:
    run("new", str(tmp_path / "mine"), "--xlsx")
    path = tmp_path / "mine" / "tables.xlsx"
    book = load_workbook(path)
    book["costs"]["C2"] = "seed"
    before = {name: len(book[name].data_validations.dataValidation) for name in book.sheetnames}
    book.save(path)
    freeze_plan(tmp_path / "mine", plan(OUTLINE))
    after = load_workbook(path)
    assert after["costs"]["C2"].value == "seed"
    assert {name: len(after[name].data_validations.dataValidation) for name in after.sheetnames} == before
    assert [cell.value for cell in after["plots"]["A"]][1:] == [plot.plot for plot in plan(OUTLINE).plots]
    assert all(cell.data_type == "s" for row in after["plots"]["A2:D13"] for cell in row)
    assert get_column_letter(after["plots"].max_column) >= "I"
