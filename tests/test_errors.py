"""Faults as lines to read, and the error that holds them all."""

from plotworth.ground.errors import CaseError, Fault, FaultsError, PlotworthError

FAULT = Fault("costs.csv", 7, "pump", "-3", "must be 0 or more", "write the price without a minus")


def test_a_fault_says_place_name_found_rule_and_remedy() -> None:
    assert FAULT.text() == "costs.csv line 7, pump: found '-3'; must be 0 or more; write the price without a minus."


def test_a_fault_of_the_file_as_a_whole_names_no_line() -> None:
    fault = Fault("seasons.csv", 0, "", "", "the file is missing", "write it")
    assert fault.text() == "seasons.csv: the file is missing; write it."


def test_what_was_found_is_left_out_where_nothing_was() -> None:
    fault = Fault("costs.csv", 2, "pump", "", "the price is blank", "write unit_price")
    assert fault.text() == "costs.csv line 2, pump: the price is blank; write unit_price."


def test_all_faults_are_told_at_once_one_a_line() -> None:
    error = FaultsError([FAULT, FAULT])
    assert error.faults == (FAULT, FAULT)
    assert str(error).splitlines() == [FAULT.text()] * 2


def test_every_refusal_is_one_kind_of_error() -> None:
    assert issubclass(FaultsError, PlotworthError)
    assert issubclass(CaseError, PlotworthError)
