"""A table of sites: CSV and Parquet alike, slices of any size, every fault with its line. Values invented."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_array_equal

from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.case.site_table import SiteRows, SiteTable, open_sites
from plotworth.choose.input import Input
from plotworth.choose.inputs import lay_out
from plotworth.ground.errors import CaseError, FaultsError

PRICE, RATE = "market_price_per_kg/all/sweet pepper", "discount_rate"
HEADER = f"site,area_m2,{PRICE}"


@pytest.fixture(scope="module")
def inputs() -> dict[str, Input]:
    return dict(lay_out(open_case(DEMO)).inputs)


def table(folder: Path, *lines: str, inputs: dict[str, Input], name: str = "sites.csv") -> SiteTable:
    (folder / name).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    return open_sites(folder / name, inputs)


def rows(found: SiteTable, size: int = 1000) -> list[SiteRows]:
    return list(found.slices(size))


def said(found: SiteTable, size: int = 1000) -> list[str]:
    return [fault.text() for part in found.slices(size) for fault in part.faults]


def test_rows_come_with_their_lines_names_and_values_and_a_blank_leaves_the_case_its_own(
    tmp_path: Path, inputs: dict[str, Input]
) -> None:
    lines = ("north,250,0.8", "", '"the far, one",,1')
    (part,) = rows(table(tmp_path, HEADER, *lines, inputs=inputs))
    assert part.names == ("north", "the far, one")
    assert part.lines == (2, 4)
    assert_array_equal(part.values["area_m2"], [250.0, np.nan])
    assert_array_equal(part.values[PRICE], [0.8, 1.0])
    assert (part.faults, part.read, part.share) == ((), 2, 1.0)


@pytest.mark.parametrize("size", [1, 2, 3, 100])
def test_slices_of_any_size_hold_the_same_rows(tmp_path: Path, inputs: dict[str, Input], size: int) -> None:
    lines = [f"s{n},{100 + n},{0.5 + n / 100}" for n in range(7)]
    found = table(tmp_path, HEADER, *lines, inputs=inputs)
    parts = rows(found, size)
    assert [name for part in parts for name in part.names] == [f"s{n}" for n in range(7)]
    assert [line for part in parts for line in part.lines] == list(range(2, 9))
    assert max(len(part.names) for part in parts) <= size
    assert (parts[-1].read, parts[-1].share) == (7, 1.0)


def test_every_fault_of_every_row_comes_with_its_line_and_the_other_rows_stay(
    tmp_path: Path, inputs: dict[str, Input]
) -> None:
    found = table(
        tmp_path, HEADER, "a,100,0.5", "b,-1,many", "c,100", "a,200,0.5", ",300,0.5", "d,400,0.5", "e,1e999,0,5",
        inputs=inputs,
    )  # fmt: skip
    texts = said(found)
    for part in (
        "sites.csv line 3, area_m2: found '-1'; must lie between 0.1 and 1e+09 m2;",
        f"sites.csv line 3, {PRICE}: found 'many'; not a number;",
        "sites.csv line 4: found 'c,100'; the row has 2 cells and the header 3;",
        "sites.csv line 5, site: found 'a'; an earlier row names the same site; keep one of the two.",
        "sites.csv line 6, site: the site has no name;",
        "sites.csv line 8: found 'e,1e999,0,5'; the row has 4 cells and the header 3;",
    ):
        assert any(text.startswith(part) for text in texts), part
    assert len(texts) == 6
    assert [name for part in rows(found) for name in part.names] == ["a", "d"]


@pytest.mark.parametrize("size", [1, 3, 100])
def test_a_name_met_in_an_earlier_slice_is_met_again(tmp_path: Path, inputs: dict[str, Input], size: int) -> None:
    found = table(tmp_path, "site,area_m2", *(f"s{n % 5},100" for n in range(7)), inputs=inputs)
    assert [fault.line for part in rows(found, size) for fault in part.faults] == [7, 8]


def test_old_names_are_still_known_when_they_have_been_sorted_away(
    tmp_path: Path, inputs: dict[str, Input], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("plotworth.case.site_table.MOST_RECENT", 2)
    found = table(tmp_path, "site,area_m2", *(f"s{n % 9},100" for n in range(12)), inputs=inputs)
    assert [fault.line for part in rows(found, 1) for fault in part.faults] == [11, 12, 13]


HEADERS = {
    "no site": ("Site,area_m2", "the column is missing; rename the column Site to site"),
    "no column like it": ("area_m2", "add a column site with a name for each row"),
    "an unknown address": ("site,market_price_per_kg/all/sweet peper", f"did you mean {PRICE}"),
    "one that is worked out": ("site,carrying_h_per_m3/hand", "the case works this value out from others"),
    "a column without a name": ("site,,area_m2", "a column has no name"),
    "a column named twice": ("site,area_m2,area_m2", "the header names a column twice"),
    "semicolons": ("site;area_m2", "columns separated by semicolons"),
}


@pytest.mark.parametrize("header", HEADERS)
def test_a_header_that_names_no_input_of_the_case_is_refused_before_any_work(
    tmp_path: Path, inputs: dict[str, Input], header: str
) -> None:
    text, part = HEADERS[header]
    with pytest.raises(FaultsError) as caught:
        table(tmp_path, text, "a,1", inputs=inputs)
    assert part in str(caught.value)


@pytest.mark.parametrize("text", ["", "\n\n", ",,\n"])
def test_a_file_without_a_header_is_refused(tmp_path: Path, inputs: dict[str, Input], text: str) -> None:
    (tmp_path / "sites.csv").write_text(text, encoding="utf-8")
    with pytest.raises(FaultsError, match="the first line is blank"):
        open_sites(tmp_path / "sites.csv", inputs)


def test_all_faults_of_a_header_come_at_once(tmp_path: Path, inputs: dict[str, Input]) -> None:
    with pytest.raises(FaultsError) as caught:
        table(tmp_path, "nothing,area,discont_rate", inputs=inputs)
    assert len(caught.value.faults) == 4


@pytest.mark.parametrize("name", ["sites.xlsx", "sites", "none.csv", "none.parquet"])
def test_a_file_that_is_no_table_of_sites_is_one_sentence(tmp_path: Path, inputs: dict[str, Input], name: str) -> None:
    if not name.startswith("none"):
        (tmp_path / name).write_text(HEADER, encoding="utf-8")
    with pytest.raises(CaseError, match=r"\.$"):
        open_sites(tmp_path / name, inputs)


@pytest.mark.parametrize(
    ("raw", "part"),
    [(b'\n"s1,100,0.5\ns2,3,4\n', "cannot be read on"), ("\ncafé,100,0.5\n".encode("cp1252"), "not UTF-8")],
)
def test_what_cannot_be_read_on_stops_with_its_line(
    tmp_path: Path, inputs: dict[str, Input], raw: bytes, part: str
) -> None:
    (tmp_path / "sites.csv").write_bytes(HEADER.encode() + raw)
    with pytest.raises(FaultsError, match=part):
        rows(open_sites(tmp_path / "sites.csv", inputs))


def test_a_byte_order_mark_is_let_pass(tmp_path: Path, inputs: dict[str, Input]) -> None:
    (tmp_path / "sites.csv").write_bytes(b"\xef\xbb\xbf" + f"{HEADER}\r\né,1,2\r\n".encode())
    (part,) = rows(open_sites(tmp_path / "sites.csv", inputs))
    assert part.names == ("é",)


def test_parquet_gives_what_csv_gives(tmp_path: Path, inputs: dict[str, Input]) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    frame = pd.DataFrame({
        "site": ["a", "b", "c", "a", "d"],
        "area_m2": pd.array([100, 200, None, 300, 400], dtype="Int64"),
        PRICE: [0.5, 99e9, np.nan, 1.0, 1.5],
        RATE: ["0.1", "10 %", "", "0.2", "0.3"],
    })  # fmt: skip
    frame.to_csv(tmp_path / "sites.csv", index=False)
    frame.to_parquet(tmp_path / "sites.parquet")
    parts = {}
    for ending in ("csv", "parquet"):
        (part,) = rows(open_sites(tmp_path / f"sites.{ending}", inputs))
        parts[ending] = part
    assert parts["csv"].names == parts["parquet"].names == ("a", "c", "d")
    assert parts["csv"].lines == parts["parquet"].lines
    for at in parts["csv"].values:
        assert_array_equal(parts["csv"].values[at], parts["parquet"].values[at])
    told = [[fault.text().replace(ending, "") for fault in part.faults] for ending, part in parts.items()]
    assert told[0] == told[1]
    assert len(told[0]) == 3


def test_sites_named_by_numbers_keep_their_digits(tmp_path: Path, inputs: dict[str, Input]) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    pd.DataFrame({"site": [1, 20000001], "area_m2": [1.0, 2.0]}).to_parquet(tmp_path / "sites.parquet")
    (part,) = rows(open_sites(tmp_path / "sites.parquet", inputs))
    assert part.names == ("1", "20000001")


def test_a_file_that_is_no_parquet_is_one_sentence(tmp_path: Path, inputs: dict[str, Input]) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    (tmp_path / "sites.parquet").write_bytes(b"PAR1 and no more")
    with pytest.raises(CaseError, match="not a Parquet file"):
        open_sites(tmp_path / "sites.parquet", inputs)
