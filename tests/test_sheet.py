"""A table read as written: dialects and encodings refused by name, lines kept, Excel as text."""

import datetime
import io
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from plotworth.case.sheet import TIDY_REMEDY, Sheet, read_csv, read_excel, write_csv
from plotworth.ground.errors import FaultsError


def read(folder: Path, content: str | bytes, *, delimiter: str = ",") -> Sheet:
    path = folder / "t.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_csv(path, delimiter=delimiter)


def refusal(folder: Path, content: str | bytes) -> str:
    with pytest.raises(FaultsError) as caught:
        read(folder, content)
    return str(caught.value)


# --- CSV -----------------------------------------------------------------------------------------


def test_cells_come_as_text_with_the_line_they_stand_on(tmp_path: Path) -> None:
    sheet = read(tmp_path, "a,b\n1, x \n\n2,\n")
    assert sheet.header == ("a", "b")
    assert [(row.line, row.cells) for row in sheet.rows] == [(2, {"a": "1", "b": "x"}), (4, {"a": "2", "b": ""})]


def test_a_cell_over_several_lines_moves_the_line_numbers_after_it(tmp_path: Path) -> None:
    sheet = read(tmp_path, 'a,b\n1,"x\ny, z"\n2,w\n')
    assert [(row.line, row.last_line) for row in sheet.rows] == [(2, 3), (4, 4)]
    assert sheet.rows[0].cells["b"] == "x\ny, z"


@pytest.mark.parametrize("character", ["\u2028", "\x0c", "\x85", "\x1c"])
def test_only_line_ends_end_a_line(tmp_path: Path, character: str) -> None:
    sheet = read(tmp_path, f"a,b\n1,x{character}y\n2,z\n")
    assert [row.line for row in sheet.rows] == [2, 3]
    assert sheet.rows[0].cells["b"] == f"x{character}y"


@pytest.mark.parametrize(
    "text",
    [
        "a,b\n1,2\n",
        "a,b\r\n1,2\r\n",
        "\ufeffa,b\n1,2\n",
        'a,b\n"1",2',
        'a,b\n1,"x\r\ny"\n',
        "a,b\n\n1, 2 \n,\n",
        "a\r1\r",
    ],
)
def test_a_file_is_written_back_as_it_was(tmp_path: Path, text: str) -> None:
    assert read(tmp_path, text).text() == text


def test_a_byte_order_mark_is_no_part_of_the_first_column_s_name(tmp_path: Path) -> None:
    assert read(tmp_path, "\ufeffa,b\n1,2\n").header == ("a", "b")


def test_rewriting_a_cell_leaves_every_other_line_as_it_was(tmp_path: Path) -> None:
    sheet = read(tmp_path, '\ufeffa,b\r\n"1",x\r\n2,y\r\n "3" ,z')
    assert sheet.with_cell(sheet.rows[1], "b", "w").text() == '\ufeffa,b\r\n"1",x\r\n2,w\r\n "3" ,z'


def test_a_rewritten_cell_is_quoted_where_it_must_be(tmp_path: Path) -> None:
    sheet = read(tmp_path, "a,b\n1,x\n")
    assert sheet.with_cell(sheet.rows[0], "b", 'y, "z"').text() == 'a,b\n1,"y, ""z"""\n'


def test_a_row_over_several_lines_can_be_rewritten_twice(tmp_path: Path) -> None:
    sheet = read(tmp_path, 'a,b\n1,"x\ny"\n2,z\n')
    once = sheet.with_cell(sheet.rows[0], "a", "5")
    twice = once.with_cell(once.rows[0], "a", "6")
    assert twice.text() == 'a,b\n6,"x\ny"\n2,z\n'
    last = twice.with_cell(twice.rows[1], "b", "w")
    assert last.text() == 'a,b\n6,"x\ny"\n2,w\n'


def test_a_written_table_is_read_back_the_same(tmp_path: Path) -> None:
    rows = [{"a": "1", "b": 'x, "y"'}, {"a": "2"}]
    write_csv(tmp_path / "t.csv", ("a", "b"), rows)
    assert [row.cells for row in read_csv(tmp_path / "t.csv").rows] == [rows[0], {"a": "2", "b": ""}]


# --- what is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("delimiter", "dialect"),
    [
        (";", "columns separated by semicolons, as French and Spanish spreadsheets write them"),
        ("\t", "columns separated by tabs"),
        ("|", "columns separated by bars"),
    ],
)
def test_another_delimiter_is_named_with_the_way_out(tmp_path: Path, delimiter: str, dialect: str) -> None:
    text = refusal(tmp_path, f"plot{delimiter}block\nP1{delimiter}0,5\n")
    assert text == f"t.csv line 1: found {f'plot{delimiter}block'!r}; {dialect}; {TIDY_REMEDY}."


def test_another_delimiter_is_read_where_it_is_asked_for(tmp_path: Path) -> None:
    assert read(tmp_path, "a;b\n1;2,5\n", delimiter=";").rows[0].cells == {"a": "1", "b": "2,5"}


def test_cp1252_is_named_with_its_line_and_what_stands_there(tmp_path: Path) -> None:
    text = refusal(tmp_path, "a,b\n1,piqué\n".encode("cp1252"))
    assert "t.csv line 2: found" in text
    assert "piqué" in text
    assert "the file is not UTF-8 and looks like cp1252, as Western European spreadsheets write it" in text
    assert TIDY_REMEDY in text


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_named_with_and_without_its_mark(tmp_path: Path, encoding: str) -> None:
    text = refusal(tmp_path, "a,b\n1,2\n".encode(encoding))
    assert text == f"t.csv line 1: found 'UTF-16'; a table is read as UTF-8; {TIDY_REMEDY}."


def test_a_decimal_comma_that_splits_a_number_is_guessed_at(tmp_path: Path) -> None:
    assert refusal(tmp_path, "a,b\n1,0,5\n") == (
        "t.csv line 2: found '1,0,5'; the row has 3 cells and the header 2; write 2 cells, and quote a cell that holds "
        "a comma; a decimal comma splits a number in two, so write 0.5 and not 0,5."
    )


def test_every_row_of_another_width_is_named(tmp_path: Path) -> None:
    text = refusal(tmp_path, "a,b\n1\n1,2\n3\n")
    assert [line.split(":")[0] for line in text.splitlines()] == ["t.csv line 2", "t.csv line 4"]
    assert "the row has 1 cells and the header 2; write 2 cells" in text


@pytest.mark.parametrize("content", ["", "\n\n", "\ufeff", " \n"])
def test_an_empty_file_is_refused(tmp_path: Path, content: str) -> None:
    assert refusal(tmp_path, content) == (
        "t.csv: the file is empty; write the header line and the rows, or remove the file."
    )


@pytest.mark.parametrize("first", ["\n", ",\n"])
def test_a_blank_first_line_is_refused(tmp_path: Path, first: str) -> None:
    expected = "t.csv line 1: the first line is blank; write the names of the columns into the first line."
    assert refusal(tmp_path, f"{first}a,b\n1,2\n") == expected


def test_a_column_named_twice_is_refused(tmp_path: Path) -> None:
    expected = "t.csv line 1, a: found 'a'; the header names a column twice; rename or remove one of them."
    assert refusal(tmp_path, "a,b,a\n1,2,3\n") == expected


def test_a_quotation_mark_left_open_is_refused_at_the_line_where_it_opens(tmp_path: Path) -> None:
    text = refusal(tmp_path, 'a,b\n1,2\n3,"x\n4,y\n')
    assert text.startswith("t.csv line 3: ")
    assert "a quoted cell is not closed; close the quotation mark, or write it twice inside a quoted cell" in text


def test_a_folder_in_a_file_s_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "t.csv").mkdir()
    with pytest.raises(FaultsError, match=r"t\.csv: the file cannot be read \(.+\); close other programs"):
        read_csv(tmp_path / "t.csv")


@settings(deadline=None)
@given(st.one_of(st.binary(), st.text(alphabet='a,;"\n\r\t |\ufeff\x00é1')))
def test_whatever_bytes_a_file_holds_it_is_a_sheet_or_a_fault(tmp_path_factory, content: bytes | str) -> None:
    raw = content if isinstance(content, bytes) else content.encode()
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(raw)
    try:
        sheet = read_csv(path)
    except FaultsError:
        return
    assert sheet.text().encode() == raw


# --- Excel ---------------------------------------------------------------------------------------


def excel(path: Path, rows: list[list[object]], *, title: str = "Sheet") -> Path:
    workbook = Workbook()
    workbook.active.title = title
    for row in rows:
        workbook.active.append(row)
    workbook.save(path)
    return path


def test_excel_cells_become_the_text_a_csv_would_hold(tmp_path: Path) -> None:
    rows = [
        ["a", "b", "c", "d", "e"],
        [1, 0.5, datetime.date(2026, 3, 9), True, None],
        [2.0, 1e-7, datetime.datetime(2026, 3, 9, 12, 30), False, " x "],
    ]
    sheet = read_excel(excel(tmp_path / "t.xlsx", rows), None)
    assert [list(row.cells.values()) for row in sheet.rows] == [
        ["1", "0.5", "2026-03-09", "yes", ""],
        ["2", "1e-07", "2026-03-09 12:30:00", "no", "x"],
    ]
    assert [row.line for row in sheet.rows] == [2, 3]


def test_a_sheet_is_found_by_its_name_and_named_with_its_file(tmp_path: Path) -> None:
    path = excel(tmp_path / "tables.xlsx", [["a"], [1]], title="plots")
    assert read_excel(path, "plots").file == "tables.xlsx[plots]"
    assert read_excel(path, "harvests") is None


def test_empty_columns_and_rows_beside_the_table_are_let_pass(tmp_path: Path) -> None:
    sheet = read_excel(excel(tmp_path / "t.xlsx", [["a", "b", None], [1, 2, None], [None] * 3, [3, None, None]]), None)
    assert [(row.line, row.cells) for row in sheet.rows] == [(2, {"a": "1", "b": "2"}), (4, {"a": "3", "b": ""})]


def test_a_cell_beside_the_table_is_refused(tmp_path: Path) -> None:
    path = excel(tmp_path / "t.xlsx", [["a", "b"], [1, 2, "stray"]])
    with pytest.raises(FaultsError, match=r"t\.xlsx line 2: found '1,2,stray'; the row has 3 cells and the header 2"):
        read_excel(path, None)


def test_rows_of_a_file_that_states_no_width_are_filled_up(tmp_path: Path) -> None:
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet()
    for row in (["a", "b", "c"], [1], [2, 3]):
        sheet.append(row)
    workbook.save(tmp_path / "t.xlsx")
    rows = read_excel(tmp_path / "t.xlsx", None).rows
    assert [list(row.cells.values()) for row in rows] == [["1", "", ""], ["2", "3", ""]]


def test_another_program_s_excel_file_is_read_alike(tmp_path: Path) -> None:
    workbook = xlsxwriter.Workbook(tmp_path / "t.xlsx")
    sheet = workbook.add_worksheet()
    sheet.write_row(0, 0, ["a", "b"])
    sheet.write_number(1, 0, 0.25)
    day = workbook.add_format({"num_format": "dd/mm/yyyy"})
    sheet.write_datetime(1, 1, datetime.datetime(2026, 3, 9), day)
    workbook.close()
    assert read_excel(tmp_path / "t.xlsx", None).rows[0].cells == {"a": "0.25", "b": "2026-03-09"}


def test_an_empty_excel_sheet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FaultsError, match=r"t\.xlsx: the sheet is empty; write the header and the rows, or remove it"):
        read_excel(excel(tmp_path / "t.xlsx", []), None)


def damaged() -> bytes:
    whole = io.BytesIO()
    Workbook().save(whole)
    return whole.getvalue()[:2000]


@pytest.mark.parametrize("content", [b"a,b\n1,2\n", b"", b"PK\x03\x04", damaged()])
def test_what_is_no_excel_file_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "t.xlsx").write_bytes(content)
    with pytest.raises(FaultsError) as caught:
        read_excel(tmp_path / "t.xlsx", None)
    text = str(caught.value)
    assert text.startswith("t.xlsx: ")
    remedy = "save it anew as .xlsx without a password, or as CSV in UTF-8 with commas"
    assert f"not an Excel file that can be read; {remedy}." in text
