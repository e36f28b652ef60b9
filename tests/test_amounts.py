"""Numbers as people read them. Expected texts: the rules of the style card, worked by hand."""

import math

import pytest

from plotworth.ground import amounts

THIN = amounts.GROUP_MARK


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12345, f"12{THIN}300"),
        (-0.04567, "−0.0457"),
        (60.0, "60"),
        (9.996, "10"),
        (999.6, f"1{THIN}000"),
        (0, "0"),
        (1.5e6, f"1{THIN}500{THIN}000"),
        (math.nan, "not known"),
        (math.inf, "not known"),
    ],
)
def test_a_number_shows_three_figures_grouped(value: float, text: str) -> None:
    assert amounts.figures_text(value) == text


def test_money_has_its_currency_code_and_an_amount_its_unit() -> None:
    assert amounts.money_text(-12345.6, "XTS") == f"XTS\u00a0−12{THIN}300"
    assert amounts.amount_text(310.2, "L/m²") == "310\u00a0L/m²"
    assert amounts.share_text(0.1234) == "12.3\u00a0%"
    assert amounts.amount_text(math.nan, "L/m²") == "not known"


def test_the_figures_of_a_mean_follow_the_width_of_its_interval() -> None:
    assert amounts.interval_text(10.234, 9.1, 11.4, "kg/m²") == "10.2\u00a0kg/m² (9.1 to 11.4)"
    assert amounts.interval_text(1234, 1000, 1500, "L") == f"1{THIN}230\u00a0L (1{THIN}000 to 1{THIN}500)"
    assert amounts.interval_text(6.2, math.nan, math.inf, "kg/m²") == "6.2\u00a0kg/m² (no finite interval)"


def test_rounding_to_nothing_shows_no_minus() -> None:
    assert amounts.number_text(-0.001, decimals=1) == "0.0"
