"""Many sites: the same whatever slice, order or engine, each as the case appraised alone. Values invented."""

import csv
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from folders import DEMO, bytes_of, demo_copy, run
from independent_cases import copy_demo
from plotworth.case.folder import open_case
from plotworth.case.site_table import SiteRows, open_sites
from plotworth.choose.appraise import appraise_layout
from plotworth.choose.inputs import lay_out
from plotworth.choose.layout import Layout
from plotworth.choose.risk import risk
from plotworth.choose.site_engines import run_dask, run_plain
from plotworth.choose.site_risk import risk_paths, site_draws, sites_at_a_time
from plotworth.choose.sites import SiteResults, SiteWork, site_paths, slice_results
from plotworth.ground.arrays import cell
from plotworth.ground.errors import PlotworthError
from test_simulated import APPLIED, PEPPER, compute

SITES = 300
PRICE = f"market_price_per_kg/all/{PEPPER}"
RANGES = {  # invented: from a garden to a scheme, near and far, cheap and dear
    "area_m2": (20.0, 20_000.0),
    "carry_distance_m": (10.0, 900.0),
    PRICE: (0.2, 4.0),
    "static_level_m/drip": (3.0, 80.0),
    "discount_rate": (0.02, 0.4),
    "failed_season_chance/drip": (0.0, 0.5),
}
WITHIN = {"rtol": 1e-12, "atol": 0.0}
"""What a site comes to does not depend on its slice, to the rounding of the last digits."""


@pytest.fixture(scope="module")
def demo() -> Layout:
    return lay_out(open_case(DEMO))


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    random, path = np.random.default_rng(3), tmp_path_factory.mktemp("sites") / "sites.csv"
    frame = pd.DataFrame({at: random.uniform(*ends, SITES) for at, ends in RANGES.items()})
    frame.insert(0, "site", [f"site {n}" for n in range(SITES)])
    frame.loc[7, "area_m2"] = np.nan
    frame.to_csv(path, index=False)
    return path


def every_path(layout: Layout) -> tuple[str, ...]:
    """Return the paths of every outcome of the case, those with gaps and rates too."""
    appraisal = appraise_layout(layout.case, layout, layout.values)
    parts = {"systems": appraisal.systems, "against_baseline": appraisal.against_baseline, "seasons": appraisal.seasons}
    skipped = ("less_water_share_low", "less_water_share_high")  # intervals of the trial, no outcome of the composition
    return tuple(
        f"{part}/{key}/{name}" for part, own in parts.items() for key, names in own.items()
        for name in names if name not in skipped
    )  # fmt: skip


def joined(parts: list[SiteResults]) -> dict[str, np.ndarray]:
    return {path: np.concatenate([part.outcomes[path] for part in parts]) for path in parts[0].outcomes}


def worked(layout: Layout, path: Path, size: int, work: SiteWork) -> list[SiteResults]:
    return list(run_plain(layout, open_sites(path, layout.inputs), work, size=size))


@pytest.fixture(scope="module")
def whole(demo: Layout, table: Path) -> dict[str, np.ndarray]:
    return joined(worked(demo, table, 8192, SiteWork(every_path(demo), table.name)))


@pytest.mark.parametrize("size", [1, 7, 64])
def test_every_outcome_is_the_same_whatever_the_slice(
    demo: Layout, table: Path, whole: dict[str, np.ndarray], size: int
) -> None:
    parts = worked(demo, table, size, SiteWork(every_path(demo), table.name))
    assert len(parts) == -(-SITES // size)
    for path, numbers in joined(parts).items():
        assert_allclose(numbers, whole[path], **WITHIN, err_msg=path)


def test_the_order_of_the_sites_does_not_matter(demo: Layout, table: Path, whole: dict[str, np.ndarray]) -> None:
    (rows,) = open_sites(table, demo.inputs).slices(8192)
    order = np.random.default_rng(5).permutation(SITES)
    shuffled = replace(
        rows,
        names=tuple(rows.names[n] for n in order),
        lines=tuple(rows.lines[n] for n in order),
        values={at: column[order] for at, column in rows.values.items()},
    )
    found = slice_results(demo, shuffled, SiteWork(every_path(demo), table.name))
    assert found.names == shuffled.names
    for path, numbers in found.outcomes.items():
        assert_allclose(numbers, whole[path][order], **WITHIN, err_msg=path)


@pytest.mark.parametrize("place", [0, 7, 151])
def test_a_site_comes_to_what_the_case_comes_to_with_its_values(
    demo: Layout, table: Path, whole: dict[str, np.ndarray], place: int
) -> None:
    (rows,) = open_sites(table, demo.inputs).slices(8192)
    own = {at: cell(column[place]) for at, column in rows.values.items() if column[place] == column[place]}
    assert len(own) == len(RANGES) - (place == 7)
    alone = appraise_layout(demo.case, demo, {**demo.values, **own})
    for path, numbers in whole.items():
        part, *middle, name = path.split("/")
        figures = {"systems": alone.systems, "against_baseline": alone.against_baseline, "seasons": alone.seasons}
        assert_allclose(numbers[place], figures[part]["/".join(middle)][name], **WITHIN, err_msg=path)


def test_the_best_system_is_the_one_with_the_greatest_npv(demo: Layout, table: Path) -> None:
    (part,) = worked(demo, table, 8192, SiteWork(site_paths(demo), table.name))
    for n, best in enumerate(part.best):
        worth = {plan.id: part.outcomes[f"systems/{plan.id}/npv"][n] for plan in demo.structure.systems}
        assert worth[best] == max(worth.values())
    assert len(set(part.best)) > 1


def test_a_daily_simulation_is_run_for_each_site_that_moves_its_rows(tmp_path: Path) -> None:
    case = copy_demo(tmp_path / "case")
    compute(case, APPLIED, system="drip", crop=PEPPER)
    layout = lay_out(open_case(case))
    lines = ["site,wetted_share/drip,area_m2", "a,0.3,100", "b,0.45,100", "c,,100", "d,0.3,900"]
    (tmp_path / "sites.csv").write_text("\n".join(lines), encoding="utf-8")
    path = "systems/drip/water_applied_l_per_m2"
    work = SiteWork((path, "systems/drip/npv"), "sites.csv")
    (found,) = worked(layout, tmp_path / "sites.csv", 100, work)
    for place, share in enumerate((0.3, 0.45, None, 0.3)):
        own = {} if share is None else {"wetted_share/drip": cell(share)}
        alone = appraise_layout(layout.case, layout, {**layout.values, **own})
        assert_allclose(found.outcomes[path][place], alone.systems["drip"]["water_applied_l_per_m2"], **WITHIN)
    assert len(set(found.outcomes[path])) == 3
    by_one = joined(worked(layout, tmp_path / "sites.csv", 1, work))
    assert_allclose(by_one["systems/drip/npv"], found.outcomes["systems/drip/npv"], **WITHIN)


@pytest.mark.parametrize("size", [1, 2, 100])
def test_a_site_at_which_a_simulation_is_refused_is_reported_and_the_rest_go_on(tmp_path: Path, size: int) -> None:
    case = copy_demo(tmp_path / "case")
    compute(case, APPLIED, system="drip", crop=PEPPER)
    layout = lay_out(open_case(case))
    lines = [f"site,growing_days/all/{PEPPER}", "a,130", "b,0.5", "c,"]
    (tmp_path / "sites.csv").write_text("\n".join(lines), encoding="utf-8")
    parts = worked(layout, tmp_path / "sites.csv", size, SiteWork(("systems/drip/npv",), "sites.csv"))
    assert [name for part in parts for name in part.names] == ["a", "c"]
    (fault,) = (fault for part in parts for fault in part.faults)
    assert (fault.file, fault.line) == ("sites.csv", 3)
    assert np.isfinite(joined(parts)["systems/drip/npv"]).all()


# --- with draws ----------------------------------------------------------------------------------


def drawn_work(layout: Layout, *, stated: tuple[str, ...], draws: int = 64) -> SiteWork:
    return SiteWork(("systems/drip/npv",), "sites.csv", site_draws(layout, stated, draws=draws, seed=4))


@pytest.mark.parametrize("size", [1, 7, 64])
def test_chances_and_percentiles_are_the_same_whatever_the_slice(demo: Layout, table: Path, size: int) -> None:
    short = table.with_name(f"short{size}.csv")
    short.write_text("".join(table.read_text(encoding="utf-8").splitlines(keepends=True)[:41]), encoding="utf-8")
    work = drawn_work(demo, stated=tuple(RANGES))
    whole, cut = (joined(worked(demo, short, width, work)) for width in (8192, size))
    assert set(whole) == {"systems/drip/npv", *risk_paths(demo.structure)}
    for path, numbers in cut.items():
        assert_allclose(numbers, whole[path], **WITHIN, err_msg=path)


def test_a_site_with_the_case_s_own_values_has_the_case_s_risk(demo: Layout) -> None:
    rows = SiteRows((2, 3), ("own", "large"), {"area_m2": np.array([np.nan, 2000.0])}, (), 2, 1.0)
    found = slice_results(demo, rows, drawn_work(demo, stated=("area_m2",), draws=9000))
    alone = risk(demo, demo.values, draws=9000, seed=4)  # more than a block of draws; the area is never drawn
    for system, one in alone.systems.items():
        own = {
            "npv_p10": one.npv.p10, "npv_p50": one.npv.p50, "npv_p90": one.npv.p90,
            "chance_of_loss": one.chance_of_loss.share, "chance_of_best": one.chance_of_best.share,
            **{f"chance_better_than_{which}": other.chance_better.share for which, other in one.against.items()},
        }  # fmt: skip
        for name, number in own.items():
            assert_allclose(found.outcomes[f"risk/{system}/{name}"][0], number, rtol=1e-9, err_msg=name)
        assert found.outcomes[f"risk/{system}/npv_p50"][1] != one.npv.p50


def test_what_a_table_states_is_not_drawn(demo: Layout) -> None:
    stated = (PRICE, "area_m2")
    drawn = site_draws(demo, stated, draws=16, seed=1)
    assert PRICE not in drawn.plan.addresses
    assert len(drawn.plan.addresses) > 10


def test_an_unknown_value_leaves_chances_without_value(demo: Layout) -> None:
    values = {**demo.values, "area_m2": cell(np.nan)}
    found = slice_results(
        replace(demo, values=values), SiteRows((2,), ("a",), {PRICE: np.array([1.0])}, (), 1, 1.0),
        drawn_work(demo, stated=(PRICE,)),
    )  # fmt: skip
    assert found.best == ("",)
    assert all(np.isnan(found.outcomes[path]).all() for path in risk_paths(demo.structure))


@pytest.mark.parametrize(("draws", "seed"), [(1, 1), (100_001, 1), (10, -1)])
def test_draws_out_of_bounds_are_refused(demo: Layout, draws: int, seed: int) -> None:
    with pytest.raises(PlotworthError):
        site_draws(demo, (), draws=draws, seed=seed)


def test_a_slice_shrinks_as_its_draws_grow() -> None:
    assert [sites_at_a_time(draws, 4096) for draws in (2, 100, 65_536, 100_000)] == [4096, 327, 1, 1]


# --- Dask ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cluster() -> Iterator[str]:
    distributed = pytest.importorskip("distributed", reason="Dask, of the extra scale, is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1", silence_logs=50
    ) as local:
        yield local.scheduler_address


def test_a_cluster_of_two_workers_gives_the_same_in_the_same_order(demo: Layout, table: Path, cluster: str) -> None:
    found = open_sites(table, demo.inputs)
    work = SiteWork(site_paths(demo), table.name, site_draws(demo, found.addresses, draws=16, seed=2))
    here, there = (
        list(run_plain(demo, found, work, size=32)),
        list(run_dask(demo, found, work, size=32, scheduler=cluster)),
    )
    assert [part.names for part in here] == [part.names for part in there]
    assert [part.best for part in here] == [part.best for part in there]
    ours, theirs = joined(here), joined(there)
    for path, numbers in ours.items():
        assert_array_equal(theirs[path], numbers, err_msg=path)


def test_the_command_works_on_a_cluster_by_its_address(tmp_path: Path, table: Path, cluster: str) -> None:
    written = []
    for engine in ([], ["--engine", "dask", "--scheduler", cluster, "--slice", "50"]):
        file = tmp_path / f"results{len(engine)}.csv"
        ran = run("sites", str(DEMO), str(table), "--to", str(file), *engine)
        assert (ran.code, ran.err) == (0, "")
        written.append(file.read_bytes())
    assert written[0] == written[1]


def test_a_scheduler_that_does_not_answer_is_one_sentence(
    tmp_path: Path, table: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed", reason="Dask, of the extra scale, is not installed")
    monkeypatch.setattr("plotworth.choose.site_engines.CONNECT_SECONDS", 1)
    address = ["--engine", "dask", "--scheduler", "tcp://127.0.0.1:9"]
    ran = run("sites", str(DEMO), str(table), "--to", str(tmp_path / "r.csv"), *address)
    assert ran.code == 1
    assert "no Dask scheduler answers there" in ran.err
    assert bytes_of(tmp_path) == {}


# --- the command ---------------------------------------------------------------------------------


def test_csv_and_parquet_hold_the_same_results_and_say_that_they_are_invented(tmp_path: Path, table: Path) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    files = [tmp_path / "r.csv", tmp_path / "r.parquet"]
    for file in files:
        ran = run("sites", str(DEMO), str(table), "--to", str(file), "--draws", "8", "--seed", "3")
        assert (ran.code, ran.err) == (0, "")
        assert "300 sites" in ran.out
    first, second = pd.read_csv(files[0]), pd.read_parquet(files[1])
    assert list(first.columns) == list(second.columns)
    assert list(first["site"]) == list(second["site"]) == [f"site {n}" for n in range(SITES)]
    assert set(first["invented"]) == {"yes"}
    for name in first.columns[3:]:
        assert_array_equal(first[name], second[name], err_msg=name)
    assert bytes_of(tmp_path).keys() == {"r.csv", "r.parquet"}


def test_faulty_rows_are_reported_and_the_results_of_the_others_written(tmp_path: Path) -> None:
    sites = tmp_path / "sites.csv"
    sites.write_text("site,area_m2\na,100\nb,-1\nc,x\nd,200\n", encoding="utf-8")
    ran = run("sites", str(DEMO), str(sites), "--to", str(tmp_path / "r.csv"))
    assert ran.code == 1
    first, second, last = ran.err.splitlines()
    assert first.startswith("sites.csv line 3, area_m2: found '-1'")
    assert second.startswith("sites.csv line 4, area_m2: found 'x'")
    assert last == "2 faults; the rows that have them were left out."
    with (tmp_path / "r.csv").open(encoding="utf-8", newline="") as lines:
        assert [row["site"] for row in csv.DictReader(lines)] == ["a", "d"]


@pytest.mark.parametrize("ending", ["csv", "parquet"])
@pytest.mark.parametrize("error", [KeyboardInterrupt, PlotworthError("no"), OSError(28, "No space left on device")])
def test_work_that_is_interrupted_leaves_nothing_half_written_and_the_old_file_as_it_was(
    tmp_path: Path, table: Path, monkeypatch: pytest.MonkeyPatch, ending: str, error: BaseException
) -> None:
    if ending == "parquet":
        pytest.importorskip("pyarrow", reason="pyarrow, of the extra scale, is not installed")
    file = tmp_path / f"r.{ending}"
    file.write_bytes(b"an older one")
    calls = []

    def fails_later(layout: Layout, rows: SiteRows, work: SiteWork) -> SiteResults:
        calls.append(rows)
        if len(calls) == 3:
            raise error
        return slice_results(layout, rows, work)

    monkeypatch.setattr("plotworth.choose.site_engines.slice_results", fails_later)
    ran = run("sites", str(DEMO), str(table), "--to", str(file), "--slice", "10")
    assert ran.code == (130 if error is KeyboardInterrupt else 1)
    assert bytes_of(tmp_path) == {file.name: b"an older one"}


@pytest.mark.parametrize("to", ["r.txt", "r", "no such folder/r.csv"])
def test_results_that_cannot_be_written_are_one_sentence_before_any_work(tmp_path: Path, table: Path, to: str) -> None:
    ran = run("sites", str(DEMO), str(table), "--to", str(tmp_path / to))
    assert (ran.code, ran.out) == (1, "")
    assert len(ran.err.splitlines()) == 1
    assert bytes_of(tmp_path) == {}


def test_results_never_take_the_place_of_what_they_are_worked_out_from(tmp_path: Path, table: Path) -> None:
    case = demo_copy(tmp_path)
    before = bytes_of(tmp_path)
    for to in (case / "assumptions.csv", table):
        ran = run("sites", str(case), str(table), "--to", str(to))
        assert ran.code == 1
        assert "would take the place" in ran.err
    assert bytes_of(tmp_path) == before


@pytest.mark.parametrize("option", [("--slice", "0"), ("--draws", "many"), ("--engine", "spark")])
def test_an_option_that_makes_no_sense_ends_with_exit_code_2(table: Path, option: tuple[str, str]) -> None:
    assert run("sites", str(DEMO), str(table), "--to", os.devnull, *option).code == 2
