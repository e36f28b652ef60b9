"""A foreign file mapped to case tables: rules, filters, blanks, and each fault of the mapping."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plotworth.case.folder import Case, open_case, save_book
from plotworth.ground.errors import CaseError, FaultsError
from small_case import FILES, faults, write_case

FIELD_BOOK = """\
id,site,block,plot,fruits,weight lb
1,North,I,1,40,10
2,North,I,2,50,20
3,North,II,1,NA,30
4,North,II,2,60,-9999
5,South,I,1,70,40
"""
MAPPING = """\
[plots]
file = "field_book.csv"
where = { site = "North" }
[plots.columns]
plot = { text = "{block}-{plot}" }
block = { from = "block" }
treatment = { text = "tank" }
crop = { text = "pepper" }
net_area_m2 = { text = "4" }
factor_site = { from = "site" }
[harvests]
file = "field_book.csv"
where = { site = "North" }
missing = ["NA", -9999]
drop_blank = ["marketable_kg"]
[harvests.columns]
date = { text = "2026-04-01" }
plot = { text = "{block}-{plot}" }
marketable_fruits = { from = "fruits" }
marketable_kg = { from = "weight lb", factor = 0.5 }
"""


def mapped(mapping: str = MAPPING, book: str | bytes | None = FIELD_BOOK) -> dict[str, str | bytes | None]:
    return {"plots.csv": None, "harvests.csv": None, "mapping.toml": mapping, "field_book.csv": book}


def opened(folder: Path) -> Case:
    return open_case(write_case(folder, mapped()))


def fault(folder: Path, old: str, new: str) -> str:
    assert old in MAPPING
    (text,) = faults(folder, mapped(MAPPING.replace(old, new, 1)))
    return text


# --- what a mapping makes ------------------------------------------------------------------------


def test_a_filter_keeps_the_rows_asked_for(tmp_path: Path) -> None:
    assert list(opened(tmp_path).table("plots")["factor_site"]) == ["North"] * 4


def test_a_filter_may_be_a_number(tmp_path: Path) -> None:
    mapping = MAPPING.replace('site = "North" }', 'site = "North", plot = 2 }')
    case = open_case(write_case(tmp_path, mapped(mapping)))
    assert list(case.table("plots")["plot"]) == ["I-2", "II-2"]


def test_a_template_inserts_cells(tmp_path: Path) -> None:
    assert list(opened(tmp_path).table("plots")["plot"]) == ["I-1", "I-2", "II-1", "II-2"]


def test_a_factor_converts_the_unit(tmp_path: Path) -> None:
    assert list(opened(tmp_path).table("harvests")["marketable_kg"]) == [5.0, 10.0, 15.0]


def test_a_missing_code_is_blank_and_a_row_is_dropped_only_for_the_columns_named(tmp_path: Path) -> None:
    harvests = opened(tmp_path).table("harvests")
    assert list(harvests["plot"]) == ["I-1", "I-2", "II-1"]
    assert list(harvests["marketable_fruits"].isna()) == [False, False, True]


def test_rows_keep_their_lines_in_the_foreign_file(tmp_path: Path) -> None:
    assert list(opened(tmp_path).table("harvests")["line"]) == [2, 3, 4]


def test_unique_keeps_the_first_of_rows_that_come_out_alike(tmp_path: Path) -> None:
    mapping = """\
[plots]
file = "field_book.csv"
unique = true
[plots.columns]
plot = { from = "site" }
treatment = { text = "tank" }
crop = { text = "pepper" }
net_area_m2 = { text = "4" }
"""
    plots = open_case(write_case(tmp_path, mapped(mapping))).table("plots")
    assert list(plots["plot"]) == ["North", "South"]
    assert list(plots["line"]) == [2, 6]


def test_another_delimiter_may_be_named(tmp_path: Path) -> None:
    mapping = MAPPING.replace("file =", 'delimiter = ";"\nfile =')
    case = open_case(write_case(tmp_path, mapped(mapping, FIELD_BOOK.replace(",", ";"))))
    assert len(case.table("plots")) == 4


def test_opening_leaves_the_foreign_file_as_it_was(tmp_path: Path) -> None:
    opened(tmp_path)
    assert (tmp_path / "field_book.csv").read_text(encoding="utf-8") == FIELD_BOOK


def test_a_book_made_by_a_mapping_is_not_written_back(tmp_path: Path) -> None:
    header = FILES["assumptions.csv"].splitlines()[0].split(",")
    rules = "".join(f'{name} = {{ from = "{name}" }}\n' for name in header)
    mapping = f'{MAPPING}[assumptions]\nfile = "numbers.csv"\n[assumptions.columns]\n{rules}'
    book = FILES["assumptions.csv"].replace("trial", "2.5")
    case = open_case(write_case(tmp_path, {**mapped(mapping), "assumptions.csv": None, "numbers.csv": book}))
    with pytest.raises(CaseError) as caught:
        save_book(case)
    expected = "numbers.csv: only a book kept in assumptions.csv is written back; change it there."
    assert str(caught.value) == expected


# --- faults --------------------------------------------------------------------------------------


def test_a_foreign_file_that_is_missing_is_named(tmp_path: Path) -> None:
    texts = faults(tmp_path, mapped(book=None))
    remedy = "put the file into the case folder or correct its name"
    assert texts == [f"mapping.toml, file: found 'field_book.csv'; there is no such file; {remedy}."] * 2


def test_a_foreign_file_in_another_encoding_is_refused_by_name(tmp_path: Path) -> None:
    texts = faults(tmp_path, mapped(book=FIELD_BOOK.replace("South", "Süd").encode("cp1252")))
    assert all(text.startswith("field_book.csv line 6: ") and "looks like cp1252" in text for text in texts)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            '{ from = "fruits" }',
            '{ from = "fruit" }',
            "mapping.toml, marketable_fruits: found 'fruit'; field_book.csv has no such column; did you mean fruits.",
        ),
        (
            '{ from = "fruits" }',
            '{ text = "{frits}" }',
            "mapping.toml, marketable_fruits: found 'frits'; field_book.csv has no such column; did you mean fruits.",
        ),
        (
            '{ from = "fruits" }',
            '{ from = "xyz" }',
            "mapping.toml, marketable_fruits: found 'xyz'; field_book.csv has no such column; "
            "use one of id, site, block, plot, fruits, weight lb.",
        ),
        (
            'where = { site = "North" }\nmissing',
            'where = { sight = "North" }\nmissing',
            "mapping.toml, where: found 'sight'; field_book.csv has no such column; did you mean site.",
        ),
        (
            "factor_site =",
            "plantz =",
            "mapping.toml, plots.plantz: found 'plantz'; the table knows no such column; did you mean plants.",
        ),
        (
            'net_area_m2 = { text = "4" }\n',
            "",
            "mapping.toml, plots.net_area_m2: the column has no rule; write net_area_m2 = { from = ... }: "
            "planted area that is harvested and recorded; guard plants left out.",
        ),
        (
            '{ from = "fruits" }',
            '{ form = "fruits" }',
            "mapping.toml, harvests.marketable_fruits: found \"{'form': 'fruits'}\"; not a rule for a column; "
            'write { text = "..." } or { from = "column", factor = 1.0 }.',
        ),
        (
            '{ from = "fruits" }',
            '"fruits"',
            "mapping.toml, harvests.marketable_fruits: found 'fruits'; not a rule for a column; "
            'write { text = "..." } or { from = "column", factor = 1.0 }.',
        ),
        (
            "factor = 0.5",
            'factor = "half"',
            "mapping.toml, harvests.marketable_kg: found \"{'from': 'weight lb', 'factor': 'half'}\"; "
            'not a rule for a column; write { text = "..." } or { from = "column", factor = 1.0 }.',
        ),
        (
            "drop_blank =",
            "drop_blanks =",
            "mapping.toml, harvests.drop_blanks: found 'drop_blanks'; no such key; did you mean drop_blank.",
        ),
        (
            'drop_blank = ["marketable_kg"]',
            'drop_blank = ["marketable_kilo"]',
            "mapping.toml, harvests.drop_blank: found 'marketable_kilo'; no rule makes this column; "
            "did you mean marketable_kg.",
        ),
        (
            'missing = ["NA", -9999]',
            'missing = "NA"',
            "mapping.toml, harvests.missing: found 'NA'; of another kind; "
            'write a list of texts, such as ["NA", "-9999"].',
        ),
        (
            'missing = ["NA", -9999]',
            'delimiter = "tab"',
            "mapping.toml, harvests.delimiter: found 'tab'; of another kind; write one character, such as \";\".",
        ),
        (
            '[harvests]\nfile = "field_book.csv"',
            "[harvests]",
            'mapping.toml, harvests.file: the key is missing; write a file name, such as "field_book.csv".',
        ),
    ],
)
def test_a_fault_of_the_mapping_says_what_to_write(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert fault(tmp_path, old, new) == expected


def test_an_unknown_table_is_refused_with_the_nearest(tmp_path: Path) -> None:
    (text,) = faults(tmp_path, mapped('[harvest]\nfile = "field_book.csv"\n'))
    assert text.startswith("mapping.toml, harvest: found ")
    assert text.endswith("a section names a table and holds its rules; did you mean [harvests].")


def test_every_cell_that_is_no_number_is_named_with_its_line_in_the_foreign_file(tmp_path: Path) -> None:
    book = FIELD_BOOK.replace("40,10", '40,"10,5"').replace("50,20", "50,20 lb")
    assert faults(tmp_path, mapped(book=book)) == [
        "field_book.csv line 2, marketable_kg: found '10,5'; a decimal comma is not read; "
        "write 10.5, with a decimal point.",
        "field_book.csv line 3, marketable_kg: found '20 lb'; a number stands without its unit; "
        "write 20; the unit belongs in its own column or the header.",
    ]


def test_a_missing_code_that_is_not_declared_is_refused_as_a_number(tmp_path: Path) -> None:
    texts = faults(tmp_path, mapped(MAPPING.replace('missing = ["NA", -9999]\n', "")))
    assert [text.split(":")[0] for text in texts] == [
        "field_book.csv line 4, marketable_fruits",
        "field_book.csv line 5, marketable_kg",
    ]
    assert "found '-4999.5'; must lie between 0 and 1e+06 kg" in texts[1]


def test_a_mapping_that_is_no_toml_is_refused(tmp_path: Path) -> None:
    (text,) = faults(tmp_path, mapped("[plots\n"))
    assert "not TOML that can be read; correct the line; text stands in quotation marks." in text
    assert "line 1" in text


def test_all_faults_of_a_mapping_come_together(tmp_path: Path) -> None:
    mapping = MAPPING.replace('block = { from = "block" }', "blok = 1").replace("missing", "mising")
    assert len(faults(tmp_path, mapped(mapping))) == 3


def test_a_table_that_is_mapped_and_written_too_is_refused(tmp_path: Path) -> None:
    texts = faults(tmp_path, {**mapped(), "plots.csv": FILES["plots.csv"]})
    expected = "plots.csv, plots: the table stands in field_book.csv and in plots.csv; keep one of them."
    assert texts == [expected]


PIECES = st.one_of(
    st.sampled_from(MAPPING.splitlines(keepends=True)),
    st.sampled_from(
        [
            'plot = { text = "{" }\n',
            'plot = { text = "{0} {a.b} {a[0]} {plot!r}" }\n',
            "columns = 3\n",
            "where = 1\n",
            "[plots]\n",
            "file = 1\n",
            'file = ""\n',
            'file = "."\n',
            "note = { text = [1] }\n",
        ]
    ),
)


@settings(deadline=None)
@given(st.one_of(st.text(), st.lists(PIECES, max_size=22).map("".join)))
def test_whatever_the_mapping_holds_it_gives_a_case_or_faults(tmp_path_factory, mapping: str) -> None:
    folder = write_case(tmp_path_factory.getbasetemp() / "any_mapping", mapped(mapping))
    try:
        case = open_case(folder)
    except FaultsError:
        return
    assert case.settings
