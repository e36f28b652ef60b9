"""A case folder: opened whole or refused whole, from CSV or Excel, saved at once, never changed by reading."""

import datetime
import os
import stat
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from pandas.testing import assert_frame_equal

from plotworth.case.cells import parse_number
from plotworth.case.folder import BOOK_FILE, Case, open_case, save_book
from plotworth.case.sheet import TIDY_REMEDY
from plotworth.case.writing import write_whole
from plotworth.ground.errors import CaseError, FaultsError
from small_case import FILES, changed, faults, write_case

TABLES = [name for name in FILES if name.endswith(".csv")]


# --- what is missing -----------------------------------------------------------------------------


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseError) as caught:
        open_case(tmp_path / "none")
    assert str(caught.value) == (f"{tmp_path / 'none'}: there is no such folder; name the folder that holds case.toml.")


def test_a_folder_without_settings_is_refused(tmp_path: Path) -> None:
    (text,) = faults(tmp_path / "mine", {"case.toml": None})
    remedy = "write it, or make a new case with `plotworth new FOLDER`"
    assert text == f"case.toml: the file is missing from mine; {remedy}."


def test_every_table_that_must_be_there_and_is_not_is_named_with_its_columns(tmp_path: Path) -> None:
    texts = faults(tmp_path, {"assumptions.csv": None, "costs.csv": None, "seasons.csv": None})
    assert [text.split(":")[0] for text in texts] == ["seasons.csv", "costs.csv", "assumptions.csv"]
    assert texts[0] == (
        "seasons.csv: the file is missing; "
        "write it with the columns system, season, crop, first_month, months, share_of_area."
    )


@pytest.mark.parametrize("file", ["assumptions.csv", "costs.csv"])
def test_a_table_that_must_be_there_and_has_no_rows_is_refused(tmp_path: Path, file: str) -> None:
    texts = faults(tmp_path, {file: FILES[file].splitlines()[0] + "\n"})
    assert texts == [f"{file}: the table has no rows; write at least one row below the header."]


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    texts = faults(tmp_path, {"harvests.csv": ""})
    assert texts == ["harvests.csv: the file is empty; write the header line and the rows, or remove the file."]


def test_a_record_table_with_a_header_alone_counts_as_not_kept(tmp_path: Path) -> None:
    header = FILES["harvests.csv"].splitlines()[0] + "\n"
    case = open_case(write_case(tmp_path, {"harvests.csv": header}))
    assert "harvests" not in case.tables
    assert "no pickings: yield cannot come from the trial" in case.notices


def test_each_table_that_is_not_kept_says_what_cannot_be_said(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path))
    assert "no water ledger: litres cannot come from the trial" in case.notices
    assert "no weather: demand for water is not compared" in case.notices


def test_a_file_whose_name_is_nearly_a_table_s_is_a_notice(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path, {"harvest.csv": FILES["harvests.csv"], "harvests.csv": None}))
    expected = "harvest.csv: no table has this name, so nothing is read from it; did you mean harvests.csv?"
    assert case.notices[-1] == expected


# --- other dialects ------------------------------------------------------------------------------


@pytest.mark.parametrize("file", TABLES)
def test_a_table_with_semicolons_is_refused_with_the_way_out(tmp_path: Path, file: str) -> None:
    (text,) = faults(tmp_path, {file: FILES[file].replace(",", ";").replace(".", ",")})
    assert text.startswith(f"{file} line 1: found ")
    assert f"columns separated by semicolons, as French and Spanish spreadsheets write them; {TIDY_REMEDY}." in text


@pytest.mark.parametrize("file", TABLES)
def test_a_table_with_tabs_is_refused_with_the_way_out(tmp_path: Path, file: str) -> None:
    (text,) = faults(tmp_path, {file: FILES[file].replace(",", "\t")})
    assert text.endswith(f"columns separated by tabs; {TIDY_REMEDY}.")


@pytest.mark.parametrize("file", TABLES)
def test_a_table_in_utf_16_is_refused_by_name(tmp_path: Path, file: str) -> None:
    (text,) = faults(tmp_path, {file: FILES[file].encode("utf-16")})
    assert text == f"{file} line 1: found 'UTF-16'; a table is read as UTF-8; {TIDY_REMEDY}."


@pytest.mark.parametrize("file", TABLES)
def test_a_table_in_cp1252_is_refused_at_its_line(tmp_path: Path, file: str) -> None:
    raw = FILES[file].encode() + "é".encode("cp1252")
    (text,) = faults(tmp_path, {file: raw})
    assert text.startswith(f"{file} line {FILES[file].count(chr(10)) + 1}: found 'é'; ")
    assert text.endswith(f"looks like cp1252, as Western European spreadsheets write it; {TIDY_REMEDY}.")


def test_byte_order_marks_and_other_line_ends_give_the_same_case(tmp_path: Path) -> None:
    plain = open_case(write_case(tmp_path / "plain"))
    marked = {name: "\ufeff" + text.replace("\n", "\r\n") for name, text in FILES.items()}
    assert_same(open_case(write_case(tmp_path / "marked", marked)), plain)


# --- Excel ---------------------------------------------------------------------------------------


def assert_same(one: Case, other: Case) -> None:
    assert one.settings == other.settings
    assert one.book.rows == other.book.rows
    assert one.costs == other.costs
    assert one.tables.keys() == other.tables.keys()
    for name, table in one.tables.items():
        assert_frame_equal(table, other.tables[name])


def as_excel(text: str) -> object:
    """A CSV cell as a spreadsheet holds it: numbers as numbers, dates as dates."""
    number = parse_number(text)
    if isinstance(number, float):
        return int(number) if number.is_integer() else number
    try:
        return datetime.datetime.fromisoformat(text)
    except ValueError:
        return text or None


def fill(sheet, text: str) -> None:
    for line in text.splitlines():
        sheet.append([as_excel(cell) for cell in line.split(",")])


def test_one_excel_file_of_all_tables_gives_the_case_of_the_csv_files(tmp_path: Path) -> None:
    folder = write_case(tmp_path / "excel", dict.fromkeys(TABLES))
    workbook = Workbook()
    for file in TABLES:
        fill(workbook.create_sheet(file.removesuffix(".csv")), FILES[file])
    workbook.save(folder / "tables.xlsx")
    assert_same(open_case(folder), open_case(write_case(tmp_path / "csv")))


def test_an_excel_file_for_each_table_gives_the_case_of_the_csv_files(tmp_path: Path) -> None:
    folder = write_case(tmp_path / "excel", dict.fromkeys(TABLES))
    for file in TABLES:
        workbook = Workbook()
        fill(workbook.active, FILES[file])
        workbook.save(folder / file.replace(".csv", ".xlsx"))
    assert_same(open_case(folder), open_case(write_case(tmp_path / "csv")))


def test_a_fault_in_excel_is_named_with_its_sheet_and_row(tmp_path: Path) -> None:
    folder = write_case(tmp_path, {"plots.csv": None})
    workbook = Workbook()
    fill(workbook.create_sheet("plots"), FILES["plots.csv"].replace("02-01,4,12", "02-01,0,12"))
    workbook.save(folder / "tables.xlsx")
    with pytest.raises(FaultsError) as caught:
        open_case(folder)
    assert str(caught.value).splitlines()[0] == (
        "tables.xlsx[plots] line 2, net_area_m2: found '0'; must lie between 0.001 and 1e+06 m2; "
        "correct the number or its unit."
    )


def test_a_table_that_stands_twice_is_refused(tmp_path: Path) -> None:
    folder = write_case(tmp_path)
    workbook = Workbook()
    fill(workbook.active, FILES["plots.csv"])
    workbook.save(folder / "plots.xlsx")
    (text,) = faults(folder, {})
    assert text == "plots.xlsx, plots: the table stands in plots.csv and in plots.xlsx; keep one of them."


def test_an_excel_file_that_is_none_is_refused(tmp_path: Path) -> None:
    texts = faults(tmp_path, {"plots.csv": None, "plots.xlsx": FILES["plots.csv"]})
    assert len(texts) == 1
    assert "not an Excel file that can be read; save it anew as .xlsx without a password" in texts[0]


def test_a_book_kept_in_excel_is_not_written(tmp_path: Path) -> None:
    folder = write_case(tmp_path, {BOOK_FILE: None})
    workbook = Workbook()
    fill(workbook.active, FILES[BOOK_FILE])
    workbook.save(folder / "assumptions.xlsx")
    with pytest.raises(CaseError, match=r"assumptions\.xlsx: only a book kept in assumptions\.csv is written back"):
        save_book(open_case(folder))


# --- saving --------------------------------------------------------------------------------------


def contents(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}


def test_opening_changes_nothing_in_the_folder(tmp_path: Path) -> None:
    before = contents(write_case(tmp_path))
    open_case(tmp_path)
    assert contents(tmp_path) == before


@pytest.mark.parametrize("text", [FILES[BOOK_FILE], "\ufeff" + FILES[BOOK_FILE].replace("\n", "\r\n")])
def test_a_book_is_saved_byte_for_byte_and_nothing_else_with_it(tmp_path: Path, text: str) -> None:
    before = contents(write_case(tmp_path, {BOOK_FILE: text}))
    save_book(open_case(tmp_path))
    after = contents(tmp_path)
    assert after[BOOK_FILE][0] == text.encode()
    assert {**after, BOOK_FILE: None} == {**before, BOOK_FILE: None}


def test_a_changed_book_is_saved_and_opens_with_the_change(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path))
    save_book(case.with_book(case.book.with_value("discount_rate", "0.12")))
    assert (tmp_path / BOOK_FILE).read_text(encoding="utf-8") == FILES[BOOK_FILE].replace("0.1,0.05", "0.12,0.05")
    assert open_case(tmp_path).book.find("discount_rate").value == 0.12


def test_a_changed_book_is_not_written_until_it_is_saved(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path))
    case.with_book(case.book.with_value("discount_rate", "0.12"))
    assert (tmp_path / BOOK_FILE).read_bytes() == FILES[BOOK_FILE].encode()


def test_a_save_that_fails_leaves_the_old_book_and_no_remains(tmp_path: Path, monkeypatch) -> None:
    case = open_case(write_case(tmp_path))
    before = contents(tmp_path)

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(CaseError, match=r"assumptions\.csv: could not be written \(No space left on device\)\."):
        save_book(case)
    assert contents(tmp_path) == before


def test_a_folder_that_is_gone_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"t\.csv: could not be written \(.+\)\."):
        write_whole(tmp_path / "gone" / "t.csv", "x")


def test_a_saved_book_may_be_read_by_the_same_people_as_before(tmp_path: Path) -> None:
    case = open_case(write_case(tmp_path))
    os.chmod(tmp_path / BOOK_FILE, 0o664)
    save_book(case)
    assert stat.S_IMODE((tmp_path / BOOK_FILE).stat().st_mode) == 0o664


# --- anything at all -----------------------------------------------------------------------------

PIECES = [line for text in FILES.values() for line in text.splitlines()]
ANY_TEXT = st.one_of(
    st.text(max_size=60),
    st.lists(st.one_of(st.sampled_from(PIECES), st.text(max_size=10)), max_size=6).map("\n".join),
)


def opens_or_is_refused(folder: Path, files: dict[str, str | bytes | None]) -> None:
    try:
        case = open_case(write_case(folder, files))
    except (FaultsError, CaseError) as error:
        assert str(error)  # noqa: PT017 - a case is as good an outcome
        return
    assert all(isinstance(table, pd.DataFrame) for table in case.tables.values())


@settings(deadline=None)
@given(st.sampled_from([*FILES, "mapping.toml", "water.csv"]), st.one_of(ANY_TEXT, st.binary(max_size=60)))
def test_whatever_one_file_holds_it_gives_a_case_or_faults(tmp_path_factory, file: str, content: str | bytes) -> None:
    raw = content if isinstance(content, bytes) else content.encode()
    folder = tmp_path_factory.getbasetemp() / "any_file"
    opens_or_is_refused(folder, {"mapping.toml": "", "water.csv": "date,plot,kind,litres\n", file: raw})


CELLS = [(file, cell) for file in TABLES for line in FILES[file].splitlines()[1:] for cell in line.split(",") if cell]
ODD = st.sampled_from(
    ["", "0", "-1", "1e300", "0,5", "1e-300", "2026-02-30", "0001-01-01", "trial", "unknown", "é", "/"]
)


@settings(deadline=None)
@given(st.sampled_from(CELLS), st.one_of(ODD, st.text(alphabet="ab01.-/% ", max_size=8)))
def test_whatever_one_cell_holds_it_gives_a_case_or_faults(tmp_path_factory, place: tuple[str, str], cell: str) -> None:
    folder = tmp_path_factory.getbasetemp() / "any_cell"
    opens_or_is_refused(folder, changed(place[0], place[1], f'"{cell}"'))
