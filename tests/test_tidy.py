"""A case in another spreadsheet dialect: refused by name, converted into a copy, and then the same case to the byte."""

import csv
import io
import shutil
from pathlib import Path

import pytest

from folders import DEMO, bytes_of, json_of, run
from plotworth.case.schema import table_columns
from plotworth.case.tidy import tidy_case
from plotworth.ground.errors import CaseError

NUMBER_KINDS = ("number", "whole", "value")
NARROW, NO_BREAK = "\u202f", "\u00a0"


def spreadsheet_number(text: str, group: str) -> str:
    """A number as a French or Spanish spreadsheet shows it: decimal comma, thousands grouped."""
    whole, _, decimals = text.partition(".")
    grouped = f"{int(whole):,}".replace(",", group) if whole.isdigit() else whole
    return f"{grouped},{decimals}" if decimals else grouped


def spreadsheet_cell(text: str, kind: str, group: str) -> str:
    if kind in NUMBER_KINDS and text.replace(".", "").isdigit():
        return spreadsheet_number(text, group)
    if kind == "date" and text:
        year, month, day = text.split("-")
        return f"{day}/{month}/{year}"
    return text


def foreign(text: str, table: str, *, delimiter: str, group: str, line_end: str = "\r\n") -> str:
    """A table of the demo as a spreadsheet of another dialect would save it."""
    header, *rows = list(csv.reader(io.StringIO(text)))
    columns = table_columns()[table]
    kinds = [columns[name].kind if name in columns else "text" for name in header]
    written = io.StringIO()
    writer = csv.writer(written, delimiter=delimiter, lineterminator=line_end)
    writer.writerow(header)
    writer.writerows([spreadsheet_cell(c, kind, group) for c, kind in zip(row, kinds, strict=True)] for row in rows)
    return written.getvalue()


def foreign_demo(folder: Path, *, delimiter: str, group: str, encoding: str) -> Path:
    shutil.copytree(DEMO, folder)
    for path in folder.glob("*.csv"):
        text = foreign(path.read_text(encoding="utf-8"), path.stem, delimiter=delimiter, group=group)
        path.write_bytes(text.encode(encoding))
    return folder


DIALECTS = {
    "French, cp1252, thousands by a no-break space": {"delimiter": ";", "group": NO_BREAK, "encoding": "cp1252"},
    "French, UTF-8 with a mark, narrow space": {"delimiter": ";", "group": NARROW, "encoding": "utf-8-sig"},
    "Spanish, cp1252, thousands by a point": {"delimiter": ";", "group": ".", "encoding": "cp1252"},
    "Spanish, UTF-8, thousands by a space": {"delimiter": ";", "group": " ", "encoding": "utf-8"},
    "Unicode text, UTF-16 and tabs": {"delimiter": "\t", "group": "", "encoding": "utf-16"},
    "tabs, big-endian UTF-16 without a mark": {"delimiter": "\t", "group": ".", "encoding": "utf-16-be"},
}


@pytest.fixture(scope="module")
def demo_json() -> bytes:
    return json_of(DEMO)


@pytest.mark.parametrize("dialect", DIALECTS)
def test_a_case_of_another_dialect_is_refused_then_tidied_into_the_same_case(
    dialect: str, tmp_path: Path, demo_json: bytes
) -> None:
    source = foreign_demo(tmp_path / "de l'été", **DIALECTS[dialect])
    before = bytes_of(source)
    refused = run("check", str(source))
    assert refused.code == 1
    assert "plotworth tidy CASE --to FOLDER" in refused.err
    tidied = run("tidy", str(source), "--to", str(tmp_path / "tidy copy"))
    assert (tidied.code, tidied.err) == (0, "")
    assert f'run `plotworth check "{tmp_path / "tidy copy"}"`' in tidied.out
    assert bytes_of(source) == before
    assert run("check", str(tmp_path / "tidy copy")).code == 0
    assert json_of(tmp_path / "tidy copy") == demo_json


def test_every_file_has_its_sentence_and_files_that_are_no_tables_are_copied(tmp_path: Path) -> None:
    source = foreign_demo(tmp_path / "a", delimiter=";", group=".", encoding="cp1252")
    (source / "photos").mkdir()
    (source / "photos" / "plot 1.jpg").write_bytes(b"\xff\xd8\x00;\xe9")
    (source / "old notes.csv").write_bytes("a;b\n1,5;\xe9\n".encode("cp1252"))
    sentences = tidy_case(source, tmp_path / "b")
    assert len(sentences) == len(bytes_of(source))
    for name in ("README.md", "photos/plot 1.jpg", "old notes.csv"):
        assert (tmp_path / "b" / name).read_bytes() == (source / name).read_bytes()
        assert f"{Path(name).name}: copied as it is." in sentences
    (harvests,) = (sentence for sentence in sentences if sentence.startswith("harvests.csv"))
    assert "semicolons to commas" in harvests
    assert "numbers and dates rewritten (dates read day first)" in harvests


def test_a_case_that_needs_nothing_is_copied_to_the_byte(tmp_path: Path) -> None:
    shutil.copytree(DEMO, tmp_path / "a")
    sentences = tidy_case(tmp_path / "a", tmp_path / "b")
    assert bytes_of(tmp_path / "b") == bytes_of(tmp_path / "a")
    assert "harvests.csv: nothing to convert." in sentences


def tidied(folder: Path, text: str, table: str = "harvests") -> tuple[str, str]:
    """Tidy a folder of one table; return what became of it and the sentence said."""
    (folder / "a").mkdir()
    (folder / "a" / f"{table}.csv").write_bytes(text.encode())
    (sentence,) = tidy_case(folder / "a", folder / "b")
    return (folder / "b" / f"{table}.csv").read_bytes().decode(), sentence


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        ("1.234,5", "1234.5"),
        ("1.234.567", "1234567"),
        ("-0,25", "-0.25"),
        (",5", ".5"),
        ("1,5E-05", "1.5E-05"),
        ("12 345", "12345"),
        (f"12{NARROW}345,75", "12345.75"),
        ("1'234,5", "1234.5"),
        ("1.234", "1234"),
        ("1,234", "1.234"),
        ("17", "17"),
        ("", ""),
    ],
)
def test_numbers_of_a_table_with_decimal_commas_are_read_as_meant(tmp_path: Path, written: str, plain: str) -> None:
    text, _ = tidied(tmp_path, f"date;plot;marketable_kg\n09/03/2026;P1;{written}\n09/03/2026;P2;0,75\n")
    assert text.splitlines()[1] == f"2026-03-09,P1,{plain}"


def test_a_table_with_decimal_points_keeps_them_whatever_its_delimiter(tmp_path: Path) -> None:
    text, _ = tidied(tmp_path, "date;plot;marketable_kg\n2026-03-09;P1;1.234\n2026-03-09;P2;0.75\n")
    assert text.splitlines()[1:] == ["2026-03-09,P1,1.234", "2026-03-09,P2,0.75"]


def test_a_table_whose_numbers_decide_nothing_takes_after_the_others_of_its_folder(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "harvests.csv").write_text("date;plot;marketable_kg\n2026-03-09;P1;1.234\n", encoding="utf-8")
    (tmp_path / "a" / "costs.csv").write_text("item;quantity;unit_price\nseed;1;0.75\n", encoding="utf-8")
    tidy_case(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b" / "harvests.csv").read_text(encoding="utf-8").splitlines()[1] == "2026-03-09,P1,1.234"


def test_a_number_that_may_be_read_in_two_ways_stays_and_is_named_with_its_row(tmp_path: Path) -> None:
    text, sentence = tidied(tmp_path, "date;plot;marketable_kg\n;P1;1.234\n;P2;0,75\n;P3;0.75\n;P4;1 234\n")
    assert text.splitlines()[1:] == [",P1,1.234", ",P2,0.75", ",P3,0.75", ",P4,1234"]
    assert sentence.endswith("left for you to judge, since decimal commas and points both occur: 1.234 (row 2).")


def test_dates_that_cannot_be_day_first_are_left_and_check_names_them(tmp_path: Path) -> None:
    text, _ = tidied(tmp_path, "date;plot;marketable_kg\n03/09/2026;P1;1\n03/25/2026;P2;1\n")
    assert text.splitlines()[1:] == ["03/09/2026,P1,1", "03/25/2026,P2,1"]


def test_what_cannot_be_converted_is_left_and_check_names_it(tmp_path: Path) -> None:
    source = foreign_demo(tmp_path / "a", delimiter=";", group=".", encoding="cp1252")
    harvests = source / "harvests.csv"
    text = harvests.read_text(encoding="cp1252")
    first = text.splitlines()[1]
    harvests.write_text(text.replace(first, first.replace("09/04/2026", "9 avril")), encoding="cp1252", newline="")
    assert run("tidy", str(source), "--to", str(tmp_path / "b")).code == 0
    refused = run("check", str(tmp_path / "b"))
    assert refused.code == 1
    assert "harvests.csv line 2, date: found '9 avril'; not a date; write it as year-month-day" in refused.err


def test_words_texts_and_line_breaks_in_cells_stay_as_written(tmp_path: Path) -> None:
    rows = 'name;system;value;note\nyield_kg_per_m2;hand;trial;"1,5 kg; or so\n2 lines"\ndiscount_rate;;0,1;\u2028\n'
    text, _ = tidied(tmp_path, rows, "assumptions")
    read = list(csv.reader(io.StringIO(text, newline="")))
    assert read[1] == ["yield_kg_per_m2", "hand", "trial", "1,5 kg; or so\n2 lines"]
    assert read[2][2] == "0.1"


def test_excel_s_line_that_names_the_delimiter_is_dropped(tmp_path: Path) -> None:
    text, _ = tidied(tmp_path, "sep=;\ndate;plot;marketable_kg\n09/03/2026;P1;0,5\n")
    assert text == "date,plot,marketable_kg\n2026-03-09,P1,0.5\n"


def test_an_empty_table_and_one_column_are_left_alone(tmp_path: Path) -> None:
    assert tidied(tmp_path, "") == ("", "harvests.csv: nothing to convert.")
    (tmp_path / "c").mkdir()
    assert tidied(tmp_path / "c", "date\n2026-03-09\n") == ("date\n2026-03-09\n", "harvests.csv: nothing to convert.")


def test_settings_in_another_encoding_are_rewritten_in_utf_8(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "case.toml").write_bytes('title = "été"\n'.encode("cp1252"))
    assert tidy_case(tmp_path / "a", tmp_path / "b") == ["case.toml: cp1252 to UTF-8."]
    assert (tmp_path / "b" / "case.toml").read_text(encoding="utf-8") == 'title = "été"\n'


def test_a_source_that_is_no_folder_and_a_target_that_is_taken_are_refused(tmp_path: Path) -> None:
    source = tmp_path / "a"
    shutil.copytree(DEMO, source)
    before = bytes_of(tmp_path)
    for wrong, target, why in (
        (tmp_path / "none", tmp_path / "b", "there is no such folder"),
        (source / "case.toml", tmp_path / "b", "there is no such folder"),
        (source, source, "is not an empty folder"),
        (source, tmp_path, "is not an empty folder"),
        (source, source / "inside", "lies inside the folder to be converted"),
        (source, source / "case.toml" / "x", "lies inside the folder to be converted"),
    ):
        with pytest.raises(CaseError, match=why):
            tidy_case(wrong, target)
    assert bytes_of(tmp_path) == before
