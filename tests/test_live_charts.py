"""The live charts, from the committed bundle to a mark that moves when a slider does."""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from browser import Seen, chromium, opened, serving, write_notebook
from plotworth.show.charts import yearly_flow_chart, yearly_flow_data
from plotworth.show.panels import bundle
from plotworth.show.panels.live import STALE_NOTE, live_charts, plain_rows

IDENTIFIERS_ONLY = {
    "http://www.w3.org/1999/xlink",
    "http://www.w3.org/2000/svg",
    "http://www.w3.org/2000/xmlns/",
    "https://github.com/vega/vega-lite/issues/2415",
    "https://vega.github.io/editor/",
    "https://vega.github.io/schema/vega/v6.json",
}
CELLS = [
    """
import ipywidgets
from IPython.display import display
from plotworth.show import captions, charts
from plotworth.show.panels.live import live_charts

SYSTEMS = {"today": "Watering by hand", "drip": "Pump and drip lines", "wick": "Wick reservoirs with lids"}
PAID = {"today": -400, "drip": -9000, "wick": -5200}
EARNED = {"today": 310, "drip": 2100, "wick": 1500}
panel = live_charts([
    charts.cumulative_cash_chart(SYSTEMS, currency="XTS"),
    charts.yearly_flow_chart("Wick reservoirs", "drip lines", currency="XTS"),
    charts.plot_yield_chart(list(SYSTEMS)),
    charts.water_chart(list(SYSTEMS)),
])

def cash_rows(share):
    rows = []
    for system, label in SYSTEMS.items():
        line = [PAID[system] + EARNED[system] * share / 100 * year for year in range(11)]
        back = next((year for year in range(11) if line[year] >= 0), None)
        rows += [
            {"system": system, "label": label, "year": year, "cumulative": cash, "deepest": year == 0,
             "payback": year == back} for year, cash in enumerate(line)
        ]
    return rows

def show(share):
    cash = cash_rows(share)
    flow = [{"year": year, "flow": 3800 if year == 0 else -6 * share} for year in range(11)]
    plots = [
        {"treatment": system, "label": label, "block": f"B{block}", "kg_per_m2": (4 + place) * share / 100 + block / 5}
        for place, (system, label) in enumerate(SYSTEMS.items()) for block in range(4)
    ]
    means = [
        {"treatment": system, "label": label, "mean": (4 + place) * share / 100 + 0.3, "low": (4 + place) * share / 100,
         "high": (4 + place) * share / 100 + 0.6} for place, (system, label) in enumerate(SYSTEMS.items())
    ]
    water = [
        {"system": system, "label": label, "part": "", "litres": 500 - 150 * place}
        for place, (system, label) in enumerate(SYSTEMS.items())
    ]
    panel.refresh(
        {**charts.cumulative_cash_data(cash), **charts.yearly_flow_data(flow), **charts.plot_yield_data(plots, means),
         **charts.water_data(water)},
        titles=[
            captions.cumulative_cash_title(cash, "XTS"),
            captions.yearly_flow_title(flow, "Wick reservoirs", "drip lines", "XTS"),
            captions.plot_yield_title(means),
            captions.water_title(water, "L/m²"),
        ],
        texts=[
            captions.cumulative_cash_text(cash, "XTS"),
            captions.yearly_flow_text(flow, "Wick reservoirs", "drip lines", "XTS"),
            captions.plot_yield_text(plots, means),
            captions.water_text(water, "L/m²"),
        ],
    )

slider = ipywidgets.IntSlider(100, 20, 200, 5, description="Harvest %")
stale = ipywidgets.ToggleButton(description="Stale")
slider.observe(lambda change: show(change.new), "value")
stale.observe(lambda change: setattr(panel, "stale", change.new), "value")
show(slider.value)
display(ipywidgets.VBox([slider, stale, panel]))
""",
    "import os; print('case is', os.environ['PLOTWORTH_CASE'])",
]
DRAWN = ".pw-chart svg"
BARS = ".pw-chart:nth-of-type(2) .mark-rect path"


@dataclass
class Panel:
    browser: Browser
    url: str
    home: Path
    case: Path


@pytest.fixture(scope="module")
def panel(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Panel]:
    folder = tmp_path_factory.mktemp("a working copy")
    write_notebook(folder / "notebooks" / "01 live.ipynb", CELLS)
    case, home = folder / "case", folder.parent / "home"
    case.mkdir()
    with chromium() as browser, serving(folder, case, home) as url:
        yield Panel(browser, url, home, case)


def wait_for_charts(page: Page) -> None:
    page.wait_for_function(f"document.querySelectorAll('{DRAWN}').length === 4", timeout=60_000)


def bar_shapes(page: Page) -> list[str]:
    return [str(bar.get_attribute("d")) for bar in page.locator(BARS).all()]


def press_and_wait(page: Page, key: str) -> None:
    before = page.locator(".pw-charts").get_attribute("data-updates")
    page.locator(".noUi-handle").first.press(key)
    page.wait_for_function(
        "before => document.querySelector('.pw-charts').dataset.updates !== before", arg=before, timeout=10_000
    )


def went_well(seen: Seen) -> bool:
    return seen.requests == [] and seen.errors == []


@pytest.mark.browser
def test_a_key_on_the_slider_moves_the_marks_with_no_network_and_no_console_error(panel: Panel) -> None:
    with opened(panel.browser, panel.url) as (page, seen):
        wait_for_charts(page)
        spoken = page.locator(".pw-figure").first.get_attribute("aria-label")
        title, shapes = page.locator(".pw-title").first.inner_text(), bar_shapes(page)
        tall = page.locator(".pw-charts").bounding_box()
        press_and_wait(page, "ArrowRight")
        assert bar_shapes(page) != shapes
        assert page.locator(".pw-title").first.inner_text() != title
        assert page.locator(".pw-figure").first.get_attribute("aria-label") != spoken
        assert page.locator(".pw-charts").bounding_box() == tall
        assert went_well(seen), seen


@pytest.mark.browser
def test_each_chart_is_one_spoken_picture_with_a_table_that_follows_the_rows(panel: Panel) -> None:
    with opened(panel.browser, panel.url) as (page, seen):
        wait_for_charts(page)
        assert page.get_by_role("img", name="Line chart of cumulative net benefit").count() == 1
        assert page.locator(".pw-table").count() == 0
        page.locator(".pw-details summary").nth(1).click()
        cell = page.locator(".pw-table tbody tr").nth(1).locator("td").first
        before = cell.inner_text()
        press_and_wait(page, "ArrowLeft")
        assert cell.inner_text() != before
        assert page.locator(".pw-table thead th").all_inner_texts() == ["Year", "Wick reservoirs less drip lines [XTS]"]
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_stale_panel_is_greyed_and_says_so_until_the_next_result(panel: Panel) -> None:
    with opened(panel.browser, panel.url) as (page, seen):
        wait_for_charts(page)
        page.get_by_role("button", name="Stale").click()
        page.locator(".pw-stale").wait_for()
        assert page.get_by_role("status").filter(has_text=STALE_NOTE).count() == 1
        press_and_wait(page, "ArrowRight")
        page.wait_for_function("!document.querySelector('.pw-stale')")
        assert went_well(seen), seen


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_nothing_of_a_chart_is_cut_on_a_narrow_screen(panel: Panel, width: int) -> None:
    with opened(panel.browser, panel.url, width=width) as (page, seen):
        wait_for_charts(page)
        page.wait_for_timeout(500)
        beyond = page.evaluate(
            """() => [...document.querySelectorAll('.pw-chart svg')].flatMap(svg => {
                const frame = svg.getBoundingClientRect();
                return [...svg.querySelectorAll('text, path.mark-line')].filter(mark => {
                    const box = mark.getBoundingClientRect();
                    return box.width && (box.left < frame.left - 1 || box.right > frame.right + 1
                        || box.top < frame.top - 1 || box.bottom > frame.bottom + 1);
                }).map(mark => mark.textContent);
            })"""
        )
        assert beyond == []
        boxes = [chart.bounding_box() for chart in page.locator(DRAWN).all()]
        assert all(box and box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes)
        assert went_well(seen), seen


@pytest.mark.browser
def test_the_notebook_knows_its_case_shows_no_code_and_writes_nothing_into_the_home_folder(panel: Panel) -> None:
    with opened(panel.browser, panel.url) as (page, seen):
        wait_for_charts(page)
        page.get_by_text(f"case is {panel.case.resolve()}").wait_for()
        assert page.locator(".jp-Cell-inputWrapper:visible").count() == 0
        assert went_well(seen), seen
    assert list(panel.home.rglob("*")) == []


def test_the_committed_bundle_was_made_from_the_committed_source() -> None:
    digest = hashlib.sha256(bundle.SOURCE.read_text(encoding="utf-8").encode()).hexdigest()
    with bundle.BUNDLE.open(encoding="utf-8") as lines:
        assert digest in next(lines), "run python -m plotworth.show.panels.bundle"


def test_the_bundle_names_no_address_to_load_from_and_imports_nothing() -> None:
    script = bundle.BUNDLE.read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\s\"'`)\\]+", script)) <= IDENTIFIERS_ONLY
    assert not re.search(r"""\bimport\s*\(|(^|;)\s*import\b""", script, re.MULTILINE)


def test_rows_with_numbers_of_numpy_and_gaps_can_be_sent() -> None:
    numpy = pytest.importorskip("numpy")
    rows = [{"a": numpy.float64(1.5), "b": numpy.int64(2), "c": float("nan"), "d": numpy.bool_(True), "e": "x"}]
    assert plain_rows(rows) == [{"a": 1.5, "b": 2, "c": None, "d": True, "e": "x"}]


def test_new_rows_clear_the_stale_mark() -> None:
    charts = live_charts([yearly_flow_chart("A", "B", currency="XTS")])
    charts.stale = True
    charts.refresh(yearly_flow_data([{"year": 0, "flow": 1.0}]), titles=["t"], texts=["s"])
    assert (charts.stale, charts.data["flow"]) == (False, [{"year": 0, "flow": 1.0}])
    charts.close()
