"""Loans and grants of case.toml: read with their addresses, and each fault with its line and what to write."""

from pathlib import Path

import pytest

from cash_cases import GRANT, LOAN, with_tables
from plain_case import plain_case
from plotworth.case.template import new_case
from plotworth.choose.inputs import lay_out
from plotworth.ground.errors import FaultsError
from small_case import FILES

HEAD = FILES["case.toml"].replace('treatment = "tank"\n', "").count("\n") + 1
"""Line before the first of the tables added: a blank one."""


def faults_of(folder: Path, text: str) -> list[str]:
    with pytest.raises(FaultsError) as caught:
        plain_case(folder, settings=with_tables(text))
    return str(caught.value).splitlines()


def test_loans_and_grants_are_read_and_their_numbers_have_addresses(tmp_path: Path) -> None:
    case = plain_case(tmp_path, settings=with_tables(LOAN + GRANT))
    (loan,), (grant,) = case.settings.loans, case.settings.grants
    assert (loan.amount_share, loan.amount, loan.grace_months, loan.capitalise_grace_interest) == (1.0, None, 0, False)
    assert (grant.share, grant.amount) == (0.5, None)
    inputs = lay_out(case).inputs
    assert inputs["loan/tank/bank/rate_per_year"].value == 0.12
    assert inputs["loan/tank/bank/amount_share"].unit == "share"
    assert inputs["grant/tank/fund/share"].value == 0.5
    assert inputs["grant/tank/fund/share"].line == case.settings.grants[0].line == HEAD + 10


def test_amounts_of_money_have_addresses_of_their_own(tmp_path: Path) -> None:
    text = LOAN.replace("amount_share_of_investment = 1.0", "amount = 25")
    text += GRANT.replace("share_of_investment = 0.5", "amount = 5")
    inputs = lay_out(plain_case(tmp_path, settings=with_tables(text))).inputs
    assert (inputs["loan/tank/bank/amount"].value, inputs["grant/tank/fund/amount"].unit) == (25.0, "XTS")
    assert "loan/tank/bank/amount_share" not in inputs


@pytest.mark.parametrize(
    ("old", "new", "line", "expected"),
    [
        ('system = "tank"', 'system = "tnak"', 2, "found 'tnak'; the case has no such system; did you mean tank"),
        ('label = "bank"', 'label = "a/b"', 3, "found 'a/b'; a label is not blank and has no /"),
        ("rate_per_year = 0.12", "rate_per_year = 12", 5, "must lie between 0 and 5; write 0.12 if 12 % is meant"),
        ("rate_per_year = 0.12", "rate_per_year = -0.1", 5, "must lie between 0 and 5; correct the number"),
        ("years = 1", "years = 1\ngrace_month = 2", 7, "has no such setting; did you mean grace_months"),
        ("rate_per_year = 0.12\n", "", 1, "rate_per_year: [[loans]] lacks it; write rate_per_year = a number"),
        ("years = 1", "years = 5", 6, "found '5'; the loan is not repaid within the horizon of 4 years"),
        ("years = 1", "years = 0.2", 6, "2.4 months are not whole payment periods: 12 payments a year stand 1 months"),
        ("years = 1", 'years = "one"', 6, "of another kind; write a number"),
        ('kind = "annuity"', 'kind = "bullet"', 7, "must be one of annuity, equal_principal, flat"),
        ("payments_per_year = 12", "payments_per_year = 5", 8, "must be one of 12, 4, 2, 1"),
        ("payments_per_year = 12", "payments_per_year = 4\ngrace_months = 2", 9, "write a multiple of 3"),
        ("years = 1", "years = 1\ngrace_months = 12", 7, "a grace as long as the loan"),
        ("amount_share_of_investment = 1.0\n", "", 1, "needs one of amount_share_of_investment and amount; neither"),
        ("years = 1", "years = 1\namount = 3", 4, "needs one of amount_share_of_investment and amount; both"),
    ],
)
def test_a_fault_of_a_loan_is_named_with_its_line(tmp_path: Path, old: str, new: str, line: int, expected: str) -> None:
    assert LOAN.count(old) == 1
    (text,) = faults_of(tmp_path, LOAN.replace(old, new))
    assert text.startswith(f"case.toml line {HEAD + line}, ")
    assert expected in text


def test_grants_of_more_than_the_whole_are_refused(tmp_path: Path) -> None:
    texts = faults_of(tmp_path, GRANT + GRANT.replace("fund", "state").replace("0.5", "0.6"))
    assert len(texts) == 2
    assert all("the grants of tank come to 1.1 of its investment; make them come to 1 at most" in one for one in texts)
    (text,) = faults_of(tmp_path, GRANT.replace("0.5", "50"))
    assert "write 0.5 if 50 % is meant" in text


def test_two_loans_of_one_label_are_refused(tmp_path: Path) -> None:
    (text,) = faults_of(tmp_path, LOAN + LOAN)
    assert "the system tank has another of this label; give each a label of its own" in text


def test_what_is_no_list_of_tables_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        FaultsError, match=r"loans: found '3'; each is a table of its own; write .{2}loans.{2} and below"
    ):
        plain_case(tmp_path, settings={"invented = true": "invented = true\nloans = 3"})


def test_a_first_month_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FaultsError, match="first_month: found '13'; must lie between 1 and 12"):
        plain_case(tmp_path, settings={"invented = true": "invented = true\nfirst_month = 13"})


def test_the_loan_and_grant_of_a_new_case_are_read_once_the_marks_are_taken_away(tmp_path: Path) -> None:
    new_case(tmp_path / "new")
    text = (tmp_path / "new" / "case.toml").read_text(encoding="utf-8")
    blocks = text[text.index("# [[loans]]") :].replace("\n# ", "\n").removeprefix("# ").replace('"drip"', '"tank"')
    case = plain_case(tmp_path / "case", settings=with_tables(f"\n{blocks}"))
    assert [case.settings.loans[0].label, case.settings.grants[0].label] == ["bank", "fund"]
