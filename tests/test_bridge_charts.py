"""The bridge chart takes rows and names them; its words are made from the same rows. All rows invented."""

from typing import Any

import pytest

from plotworth.show.bridge_captions import bridge_text, bridge_title
from plotworth.show.bridge_charts import bridge_chart, bridge_data


def row(kind: str, label: str, amount: float, start: float, end: float, detail: str = "") -> dict[str, Any]:
    return {"kind": kind, "label": label, "detail": detail, "amount": amount, "start": start, "end": end}


ROWS = [
    row("before", "The book", -100.0, 0.0, -100.0),
    row("part", "Area", 150.0, -100.0, 50.0, "400 to 800 m²"),
    row("part", "Price", -20.0, 50.0, 30.0, "1 to 0.9"),
    row("rest", "3 others together", 5.0, 30.0, 35.0),
    row("after", "More land", 35.0, 0.0, 35.0),
]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-")


def test_the_chart_draws_the_data_laid_out_for_it_and_names_its_table() -> None:
    data = bridge_data(ROWS)
    spec = bridge_chart(len(ROWS), unit="XTS").to_dict()
    assert {layer["data"]["name"] for layer in spec["layer"] if "name" in layer["data"]} == set(data)
    (table,) = spec["usermeta"]["plotworth"]["tables"]
    assert table["name"] in data
    assert all(key in one for key, _ in table["columns"] for one in data[table["name"]])


def test_each_row_says_its_amount_with_its_sign_and_its_direction() -> None:
    (written,) = bridge_data(ROWS).values()
    assert [plain(one["text"]) for one in written] == [
        "The book: -100",
        "Area: +150 (400 to 800 m²)",
        "Price: -20 (1 to 0.9)",
        "3 others together: +5",
        "More land: 35",
    ]
    assert [one["direction"] for one in written] == ["end", "more", "less", "more", "end"]
    assert len({one["key"] for one in written}) == len(ROWS)


@pytest.mark.parametrize(
    ("rows", "title"),
    [
        (ROWS, "Tank gains XTS 135; what moves it most: area"),
        ([ROWS[0], row("part", "Price", -20.0, -100.0, -120.0), row("after", "b", -120.0, 0.0, -120.0)],
         "Tank loses XTS 20; what moves it most: price"),
        ([ROWS[0], ROWS[0]], "Tank: nothing that moved changes its NPV of XTS -100"),
        ([], "Why the worth of Tank moved is not known"),
    ],
)  # fmt: skip
def test_the_title_says_by_how_much_and_by_what(rows: list[dict[str, Any]], title: str) -> None:
    assert plain(bridge_title(rows, "Tank", "XTS")) == title


def test_the_spoken_form_holds_every_number_or_says_that_there_is_none() -> None:
    text = plain(bridge_text(ROWS, "Tank", "XTS"))
    assert "The book: XTS -100. What moved it, from the greatest: Area XTS 150; Price XTS -20; 3 others" in text
    assert "nothing is drawn" in bridge_text([], "Tank", "XTS")
