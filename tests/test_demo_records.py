"""The demo's record tables come from its generator and from nothing else."""

from pathlib import Path

import pytest

import make_demo

RECORDS = (
    "plots", "harvests", "fruit_masses", "standing_fruits", "water", "soil_water", "inputs", "labour", "weather",
)  # fmt: skip


@pytest.fixture(scope="module")
def remade(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    make_demo.write_records(folder)
    return folder


@pytest.mark.parametrize("table", RECORDS)
def test_a_record_table_of_the_demo_is_made_again_byte_for_byte(remade: Path, table: str):
    assert (remade / f"{table}.csv").read_bytes() == (make_demo.DATA_DEMO / f"{table}.csv").read_bytes()


def test_the_generator_writes_no_other_table(remade: Path):
    assert sorted(path.name for path in remade.iterdir()) == sorted(f"{table}.csv" for table in RECORDS)
