"""The command line as a user meets it: what it says, what it refuses, its exit codes; no traceback, no file touched."""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from folders import DEMO, ROOT, Ran, bytes_of, demo_copy, json_of, run
from plotworth.ground.glossary import GLOSSARY
from small_case import write_case

COMMANDS = (
    "open",
    "new",
    "plan",
    "check",
    "appraise",
    "cash",
    "budget",
    "crossover",
    "trail",
    "explain",
    "sites",
    "tidy",
)
PARTS = ("systems", "against_baseline", "against_today")
CLI = (sys.executable, "-m", "plotworth.cli")


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return demo_copy(tmp_path)


def process(
    *arguments: str, environment: Mapping[str, str] | None = None, folder: Path | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run the command line in a process of its own, with an empty home."""
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "SYSTEMROOT")}
    settings = {**kept, "PYTHONPATH": str(ROOT / "lib"), "HOME": os.devnull, **(environment or {})}
    return subprocess.run([*CLI, *arguments], capture_output=True, env=settings, cwd=folder, timeout=60, check=False)


# --- commands that go well -----------------------------------------------------------------------


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_of_each_command_says_what_it_does(command: str) -> None:
    ran = run(*filter(None, (command, "--help")))
    assert (ran.code, ran.err) == (0, "")
    assert f"usage: plotworth {command}".strip() in ran.out
    if not command:
        assert set(COMMANDS) <= {line.split()[0] for line in ran.out.splitlines() if line.startswith("    ")}


@pytest.mark.parametrize(
    "arguments",
    [(), ("apraise",), ("check",), ("check", "a", "b"), ("tidy", "a"), ("new", "--json"), ("open", "--port")],
)
def test_what_is_no_command_ends_with_exit_code_2_and_the_usage(arguments: tuple[str, ...]) -> None:
    ran = run(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("usage: plotworth")


@pytest.mark.parametrize("port", ["0", "65536", "-1", "http", "8.5"])
def test_a_port_that_is_none_ends_with_exit_code_2(port: str) -> None:
    ran = run("open", f"--port={port}")
    assert ran.code == 2
    assert "is no port; write a number from 1 to 65535" in ran.err


def test_check_says_what_was_read_and_changes_nothing(case: Path) -> None:
    before = bytes_of(case)
    ran = run("check", str(case))
    assert (ran.code, ran.err) == (0, "")
    assert "INVENTED DATA" in ran.out.splitlines()[0]
    assert bytes_of(case) == before


def test_appraise_prints_a_table_of_every_system_and_changes_nothing(case: Path) -> None:
    before = bytes_of(case)
    ran = run("appraise", str(case))
    assert (ran.code, ran.err) == (0, "")
    assert "Net present value" in ran.out
    assert all(label in ran.out for label in ("Wick-fed tank", "Well and drip", "Hand watering"))
    assert bytes_of(case) == before


def test_new_and_tidy_say_which_command_comes_next(tmp_path: Path, case: Path) -> None:
    assert "Fill it in, then run `plotworth check" in run("new", str(tmp_path / "new")).out
    ran = run("tidy", str(case), "--to", str(tmp_path / "copy"))
    assert ran.out.splitlines()[-1] == f"The copy is in {tmp_path / 'copy'}; run `plotworth check {tmp_path / 'copy'}`."


def test_a_case_is_found_by_a_relative_path_and_as_the_folder_one_stands_in(case: Path) -> None:
    for arguments, folder in ((("check", case.name), case.parent), (("check", "."), case)):
        ran = process(*arguments, folder=folder)
        assert (ran.returncode, ran.stderr) == (0, b"")


# --- JSON ----------------------------------------------------------------------------------------


def refuse_constant(word: str) -> None:
    raise AssertionError(f"{word} is no JSON")


def nulls(data: object, path: str = "") -> Iterator[str]:
    """Yield the path of every null; a list that holds some counts once."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from nulls(value, f"{path}/{key}" if path else key)
    elif data is None or (isinstance(data, list) and None in data):
        yield path


def loaded(folder: Path) -> dict[str, object]:
    return json.loads(json_of(folder), parse_constant=refuse_constant)


def test_the_json_holds_what_was_promised_under_names_of_the_glossary(case: Path) -> None:
    data = loaded(case)
    assert {"case", *PARTS, "units", "why"} <= set(data)
    outcomes = {term.name for term in GLOSSARY.values() if term.is_outcome}
    assert set(data["units"]) == outcomes
    for part, reference in zip(PARTS, (None, "drip", "hand"), strict=True):
        assert set(data[part]) == {"reservoir", "drip", "hand"} - {reference}
        for figures in data[part].values():
            assert set(figures) <= outcomes
            assert all(isinstance(value, float | None) for name, value in figures.items() if name != "irr_roots")
    for figures in data["systems"].values():
        assert set(figures) == outcomes - {"less_water_share", "less_water_share_low", "less_water_share_high"}


def test_the_units_of_the_json_are_in_the_case_s_currency(case: Path) -> None:
    units = loaded(case)["units"]
    assert (units["npv"], units["cost_per_kg"], units["yield_kg_per_m2"]) == ("XTS", "XTS/kg", "kg/m2")
    assert not any("money" in unit for unit in units.values())


def test_the_json_tells_which_case_and_that_it_is_invented(case: Path) -> None:
    told = loaded(case)["case"]
    assert told["invented"] is True
    assert (told["currency"], told["price_year"], told["as_of"]) == ("XTS", 2026, "2026-09-30")
    assert (told["today"], told["baseline"], told["main_crop"]) == ("hand", "drip", "sweet pepper")


def test_differences_are_with_less_without(case: Path) -> None:
    data = loaded(case)
    npv = {system: figures["npv"] for system, figures in data["systems"].items()}
    for part, reference in (("against_baseline", "drip"), ("against_today", "hand")):
        for system, figures in data[part].items():
            assert figures["npv"] == pytest.approx(npv[system] - npv[reference], abs=1e-9)


UNKNOWNS = ("market_price_per_kg", "discount_rate", "yield_kg_per_m2", "water_applied_l_per_m2", "eaten_share")
EXTREMES = {
    "nothing harvested": {"yield_kg_per_m2": "0", "market_price_per_kg": "0.5"},
    "nothing paid at the market": {"market_price_per_kg": "0"},
    "no discounting": {"discount_rate": "0"},
    "every season fails": {"failed_season_chance": "1"},
    "the greatest numbers allowed": {"market_price_per_kg": "1e6", "yield_kg_per_m2": "1000"},
}
BOOK = {
    "discount_rate": "0.1",
    "yield_kg_per_m2": "2",
    "market_price_per_kg": "0.5",
    "water_applied_l_per_m2": "200",
    "failed_season_chance": "0",
    "eaten_share": "0.1",
}


def written(folder: Path, values: Mapping[str, str]) -> Path:
    """The small case with these values in its book."""
    units = {name: GLOSSARY[name].unit.replace("money", "XTS") for name in BOOK}
    rows = [f"{name},{value},{units[name]},invented" for name, value in {**BOOK, **values}.items()]
    return write_case(folder, {"assumptions.csv": "\n".join(["name,value,unit,source", *rows]) + "\n"})


@pytest.mark.parametrize("name", UNKNOWNS)
def test_what_rests_on_an_unknown_is_null_and_says_which_line_it_waits_for(tmp_path: Path, name: str) -> None:
    folder = written(tmp_path, {name: "unknown"})
    data = loaded(folder)
    empty = list(nulls(data))
    assert "systems/tank/npv" in empty
    assert [path for path in empty if path not in data["why"]] == []
    line = 2 + list(BOOK).index(name)
    expected = f"unknown: {GLOSSARY[name].label.lower()} (assumptions.csv line {line})"
    assert data["why"]["systems/tank/npv"] == expected
    assert data["why"].get("flows/tank", expected) == expected
    assert run("appraise", str(folder)).code == 0
    assert f"unknown, so left as a gap: {name}." in run("check", str(folder)).out.replace("\n  ", " ")


@pytest.mark.parametrize("extreme", EXTREMES)
def test_extremes_give_numbers_or_nulls_with_their_why(tmp_path: Path, extreme: str) -> None:
    data = loaded(written(tmp_path, EXTREMES[extreme]))
    assert [path for path in nulls(data) if path not in data["why"]] == []


def test_every_why_of_the_demo_names_a_figure_that_is_there(case: Path) -> None:
    data = loaded(case)
    assert [path for path in nulls(data) if path not in data["why"]] == []
    for path, sentence in data["why"].items():
        part, *keys = path.split("/")
        figure = data[part]
        for key in ["/".join(keys[:-1]), keys[-1]] if part == "seasons" else keys:
            figure = figure[key]
        assert sentence
        assert not sentence.endswith(".")


@pytest.mark.parametrize(
    "environment",
    [
        {"PYTHONHASHSEED": "1", "TZ": "Pacific/Auckland", "LC_ALL": "C"},
        {"PYTHONHASHSEED": "2", "TZ": "America/Lima", "LC_ALL": "fr_FR.UTF-8", "PYTHONIOENCODING": "cp1252"},
    ],
)
def test_the_same_case_gives_the_same_bytes_anywhere(
    tmp_path: Path, case: Path, environment: Mapping[str, str]
) -> None:
    (tmp_path / "elsewhere").mkdir()
    start = time.perf_counter()
    ran = process("appraise", str(case), "--json", environment=environment, folder=tmp_path / "elsewhere")
    print(f"appraise in a fresh process: {time.perf_counter() - start:.2f} s")
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert ran.stdout.replace(b"\r\n", b"\n") == json_of(DEMO) == json_of(case)


# --- bad input -----------------------------------------------------------------------------------


def edit(file: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text
        (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8", newline="")

    return change


def rewrite(file: str, change: Callable[[str], bytes]) -> Callable[[Path], None]:
    def apply(folder: Path) -> None:
        path = folder / file
        path.write_bytes(change(path.read_text(encoding="utf-8")))

    return apply


def remove(file: str) -> Callable[[Path], None]:
    return lambda folder: (folder / file).unlink()


TIDY = "run `plotworth tidy CASE --to FOLDER` for a converted copy, or save it as CSV in UTF-8 with commas."
BAD: dict[str, tuple[Callable[[Path], None], tuple[str, ...]]] = {
    "a missing file": (
        remove("seasons.csv"),
        ("seasons.csv: the file is missing; write it with the columns system, season, crop,",),
    ),
    "no case.toml": (
        remove("case.toml"),
        ("case.toml: the file is missing from mon été; write it, or make a new case with `plotworth new FOLDER`.",),
    ),
    "an empty table": (
        rewrite("harvests.csv", lambda _: b""),
        ("harvests.csv: the file is empty; write the header line and the rows, or remove the file.",),
    ),
    "a table with a header alone": (
        rewrite("costs.csv", lambda text: text.splitlines()[0].encode()),
        ("costs.csv: the table has no rows; write at least one row below the header.",),
    ),
    "semicolons": (
        rewrite("water.csv", lambda text: text.replace(",", ";").encode()),
        ("water.csv line 1: found 'date;plot;kind;litres;meter'; columns separated by semicolons", TIDY),
    ),
    "tabs": (
        rewrite("plots.csv", lambda text: text.replace(",", "\t").encode()),
        ("plots.csv line 1: found 'plot", "columns separated by tabs", TIDY),
    ),
    "decimal commas within semicolons": (
        rewrite("costs.csv", lambda text: text.replace(",", ";").replace(".", ",").encode()),
        ("costs.csv line 1: found 'system;season;item", TIDY),
    ),
    "a decimal comma in quotes": (
        edit("labour_plan.csv", ",0.15,", ',"0,15",'),
        ("labour_plan.csv line 2, hours_per_m2: found '0,15'; a decimal comma is not read; write 0.15,",),
    ),
    "a decimal comma without quotes": (
        edit("labour_plan.csv", ",0.15,", ",0,15,"),
        ("labour_plan.csv line 2: found ',warm dry,land preparation,2,0,15,", "10 cells and the header 9", "write 0.5"),
    ),
    "low and high swapped in the book": (
        edit("assumptions.csv", "0.12,0.05,0.25", "0.12,0.25,0.05"),
        (
            "assumptions.csv line 2, discount_rate: found 'low 0.25 and high 0.05'; low is above high; "
            "write low 0.05 and high 0.25.",
        ),
    ),
    "low and high swapped in the costs": (
        edit("costs.csv", ",55,40,80,", ",55,80,40,"),
        ("costs.csv line 3, borehole metres: found 'unit_price_low 80 and unit_price_high 40'; low is above high;",),
    ),
    "an unknown unit": (
        edit("assumptions.csv", "XTS/kg", "XTS/lb"),
        ("assumptions.csv line 47, market_price_per_kg: found 'XTS/lb'; market price is stated in XTS/kg;",),
    ),
    "a negative count": (
        edit("harvests.csv", "P01,10,", "P01,-10,"),
        (
            "harvests.csv line 2, marketable_fruits: found '-10'; must lie between 0 and 1e+07; "
            "write 0 where there was none, or leave the cell blank where it is not known.",
        ),
    ),
    "an area of zero": (
        edit("case.toml", "area_m2 = 400", "area_m2 = 0"),
        ("case.toml line 8, area_m2: found '0'; must lie between 0.1 and 1e+09 m2; correct the number or its unit.",),
    ),
    "a plot of no area": (
        edit("plots.csv", ",4.8,", ",0,"),
        ("plots.csv line 2, net_area_m2: found '0'; must lie between 0.001 and 1e+06 m2;",),
    ),
    "a life of zero": (
        edit("costs.csv", "1100,800,1600,8,", "1100,800,1600,0,"),
        ("costs.csv line 5, life_years: found '0'; must lie between 1 and 60 year; correct the number or its unit.",),
    ),
    "a discount rate of 10 for 10 %": (
        edit("assumptions.csv", "0.12,0.05,0.25", "10,,"),
        (
            "assumptions.csv line 2, discount_rate: found '10'; must lie between 0 and 1 share/year; "
            "write 0.1 if 10 % is meant.",
        ),
    ),
    "a discount rate of 10%": (
        edit("assumptions.csv", "0.12,0.05,0.25", "10%,,"),
        ("assumptions.csv line 2, discount_rate: found '10%'; a share is written between 0 and 1; write 0.1.",),
    ),
    "cp1252": (
        rewrite("plots.csv", lambda text: text.replace("Sarvane", "Sarváne", 1).encode("cp1252")),
        ("plots.csv line 2: found '", "Sarváne", "looks like cp1252", TIDY),
    ),
    "settings in cp1252": (
        rewrite("case.toml", lambda text: text.replace("Sarvane", "Sarváne", 1).encode("cp1252")),
        ("case.toml line 2: found '", "looks like cp1252"),
    ),
    "UTF-16": (
        rewrite("costs.csv", lambda text: text.encode("utf-16")),
        ("costs.csv line 1: found 'UTF-16'; a table is read as UTF-8;", TIDY),
    ),
    "a day-first date": (
        edit("harvests.csv", "2026-04-09", "09/04/2026"),
        ("harvests.csv line 2, date: found '09/04/2026'; a date is written as year-month-day; write 2026-04-09 if",),
    ),
    "settings that are not TOML": (
        edit("case.toml", "area_m2 = 400", "area_m2 = 400 m2"),
        ("case.toml line 8: found 'area_m2 = 400 m2'; not TOML that can be read; write name = value;",),
    ),
    "a plot that does not exist": (
        edit("harvests.csv", "P01", "P99"),
        ("harvests.csv line 2, plot: found 'P99'; plots.csv has no such plot;",),
    ),
    "a trial value that was not measured": (
        remove("water.csv"),
        ("water_applied_l_per_m2: found 'trial'; the trial holds no water applied", "write a number"),
    ),
}


@pytest.mark.parametrize("fault", BAD)
def test_bad_input_ends_in_one_message_and_nothing_is_changed(case: Path, fault: str) -> None:
    seed, parts = BAD[fault]
    seed(case)
    before = bytes_of(case)
    for arguments in (("check", str(case)), ("appraise", str(case)), ("appraise", str(case), "--json")):
        ran = run(*arguments)
        assert (ran.code, ran.out) == (1, "")
        for part in parts:
            assert part in ran.err
        first, *lines = ran.err.splitlines()
        assert first == f"{len(lines)} to mend:"
        assert all(line.endswith(".") for line in lines)
    assert bytes_of(case) == before


def test_every_fault_comes_at_once_file_by_file_and_line_by_line(case: Path) -> None:
    for name in ("an area of zero", "a negative count", "a life of zero", "an unknown unit", "a plot of no area"):
        BAD[name][0](case)
    lines = run("check", str(case)).err.splitlines()
    places = [line.split(",")[0] for line in lines[1:]]
    assert places[0] == "case.toml line 8"
    assert {"plots.csv line 2", "harvests.csv line 2", "costs.csv line 5"} <= set(places)
    edit("case.toml", "area_m2 = 0", "area_m2 = 400")(case)
    lines = run("check", str(case)).err.splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [
        "plots.csv line 2",
        "harvests.csv line 2",
        "assumptions.csv line 47",
        "costs.csv line 5",
    ]


@pytest.mark.parametrize("command", ["check", "appraise", "open"])
@pytest.mark.parametrize("place", ["none", "mon été/case.toml", "empty"])
def test_a_folder_that_holds_no_case_is_refused(tmp_path: Path, case: Path, command: str, place: str) -> None:
    assert case.is_dir()
    (tmp_path / "empty").mkdir()
    before = bytes_of(tmp_path)
    ran = run(command, str(tmp_path / place))
    assert (ran.code, ran.out) == (1, "")
    assert "case.toml" in ran.err
    assert bytes_of(tmp_path) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_to_is_one_sentence(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    ran = run("new", str(tmp_path / "new"))
    assert (ran.code, ran.out) == (1, "")
    assert "Permission denied" in ran.err


def test_a_folder_below_a_file_is_one_sentence(case: Path) -> None:
    ran = run("new", str(case / "case.toml" / "new"))
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.startswith(str(case / "case.toml"))


@pytest.mark.parametrize("fault", ["an area of zero", "cp1252", "a missing file"])
def test_a_process_that_refuses_shows_no_traceback(case: Path, fault: str) -> None:
    BAD[fault][0](case)
    ran = process("check", str(case), environment={"PYTHONIOENCODING": "ascii"})
    assert (ran.returncode, ran.stdout) == (1, b"")
    assert b"Traceback" not in ran.stderr
    assert b"to mend:" in ran.stderr


# --- consoles and pipes --------------------------------------------------------------------------


@pytest.mark.parametrize(("encoding", "square"), [("ascii", "m2"), ("cp1252", "m²"), ("utf-8", "m²"), ("cp850", "m²")])
def test_a_console_of_any_encoding_shows_units_and_keeps_minus_signs(case: Path, encoding: str, square: str) -> None:
    ran = process("appraise", str(case), environment={"PYTHONIOENCODING": encoding})
    assert (ran.returncode, ran.stderr) == (0, b"")
    text = ran.stdout.decode(encoding).replace("\u2212", "-").replace("\u202f", " ").replace("\u00a0", " ")
    assert f"400 {square}, 10 years" in text
    assert "NPV XTS -5 020" in text.replace("\n  ", " ")
    figures = text[text.index("THE TRIAL: YIELD") : text.index("FLAGS: QUESTIONS")]
    assert "?" not in figures


def test_a_reader_that_has_gone_away_is_no_error(case: Path) -> None:
    for arguments in (("appraise", str(case)), ("appraise", str(case), "--json"), ("check", str(case))):
        ran = subprocess.Popen([*CLI, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert ran.stdout is not None
        ran.stdout.close()
        assert ran.stderr is not None
        assert ran.stderr.read() == b""
        ran.stderr.close()
        assert ran.wait(30) == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full disk to write to")
def test_a_full_disk_is_one_sentence(case: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        command = [*CLI, "appraise", str(case)]
        ran = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, timeout=60, check=False)
    assert ran.returncode == 1
    assert ran.stderr == b"The output could not be written (No space left on device).\n"


@pytest.mark.skipif(shutil.which("sh") is None, reason="no shell here")
def test_output_that_is_closed_is_no_error(case: Path) -> None:
    command = f"'{sys.executable}' -m plotworth.cli check '{case}' >&-"
    ran = subprocess.run(["sh", "-c", command], stderr=subprocess.PIPE, timeout=60, check=False)
    assert (ran.returncode, ran.stderr) == (0, b"")


def test_ctrl_c_ends_any_command_without_a_traceback(monkeypatch: pytest.MonkeyPatch, case: Path) -> None:
    def interrupt(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("plotworth.case.folder.open_case", interrupt)
    assert run("check", str(case)) == Ran(130, "", "")
