"""The notebooks: run by a kernel, and the first one opened, read and moved in a real browser."""

from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import Page

from browser import Lab, Seen, notebook_url, opened
from plotworth import workbook

ROOT = Path(__file__).parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
HEADLINE = ".pw-headline"
LINES = ".pw-chart .mark-line path"
CHARTS = 4
START_MS = 60_000
MOVE_MS = 10_000


def wait_for_panel(page: Page) -> None:
    page.locator(".pw-chart svg").nth(CHARTS - 1).wait_for(timeout=START_MS)
    page.locator(HEADLINE).wait_for()


def shapes(page: Page) -> list[str]:
    return [mark.get_attribute("d") or "" for mark in page.locator(LINES).all()]


def updates(page: Page) -> int:
    return int(page.locator(".pw-charts").get_attribute("data-updates") or 0)


def press(page: Page, name: str, key: str) -> None:
    """Focus the slider of this name, press a key, wait until its result is drawn."""
    before = updates(page)
    handle = page.locator(".widget-hslider", has_text=name).locator(".noUi-handle")
    handle.focus()
    page.keyboard.press(key)
    page.wait_for_function(
        "count => Number(document.querySelector('.pw-charts').dataset.updates) > count", arg=before, timeout=MOVE_MS
    )


def type_into(page: Page, name: str, number: str) -> None:
    box = page.get_by_role("spinbutton", name=name)
    box.fill(number)
    box.press("Enter")


def went_well(seen: Seen) -> bool:
    return not seen.requests and not seen.errors


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_runs_from_the_first_cell_to_the_last(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from nbclient import NotebookClient

    monkeypatch.setenv("PLOTWORTH_CASE", str(ROOT / "data_demo"))
    monkeypatch.delenv("PYTHONWARNINGS", raising=False)
    book = nbformat.read(path, as_version=4)
    NotebookClient(book, timeout=60, kernel_name="python3", shutdown_kernel="immediate").execute()
    shown = [output for cell in book.cells for output in cell.get("outputs", [])]
    assert shown
    assert all(output["output_type"] != "error" for output in shown)


@pytest.mark.browser
@pytest.mark.parametrize(
    "dial", ["Area", "Market price", "Fruit mass: Wick-fed tank", "Borehole metres: price", "Discount rate"]
)
def test_a_slider_moved_by_keyboard_changes_the_npv_and_a_mark(lab: Lab, dial: str) -> None:
    with opened(lab.browser, lab.url) as (page, seen):
        wait_for_panel(page)
        table = page.locator(".pw-figures").first.inner_text()
        said, drawn = page.locator(".pw-verdicts").first.inner_text(), shapes(page)
        press(page, dial, "ArrowRight")
        assert page.locator(".pw-verdicts").first.inner_text() != said
        assert "NPV" in page.locator(".pw-verdicts").first.inner_text()
        assert shapes(page) != drawn
        assert page.locator(".pw-figures").first.inner_text() != table
        assert went_well(seen), seen


@pytest.mark.browser
def test_the_panel_opens_on_the_values_of_the_book_and_the_button_returns_to_them(lab: Lab) -> None:
    with opened(lab.browser, lab.url) as (page, seen):
        wait_for_panel(page)
        page.wait_for_timeout(1000)
        assert "Computed with the values of the book." in page.get_by_role("status").all_inner_texts()
        said = page.locator(HEADLINE).inner_text()
        press(page, "Area", "PageUp")
        assert page.locator(HEADLINE).inner_text() != said
        page.get_by_role("button", name="Back to the book").click()
        page.get_by_text("Computed with the values of the book.").wait_for()
        assert page.locator(HEADLINE).inner_text() == said
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_number_that_cannot_be_leaves_the_last_result_greyed_with_a_sentence(lab: Lab) -> None:
    with opened(lab.browser, lab.url) as (page, seen):
        wait_for_panel(page)
        said = page.locator(HEADLINE).inner_text()
        type_into(page, "Discount rate", "12")
        page.locator(".pw-problem").wait_for()
        assert "must lie between 0 and 1" in page.locator(".pw-problem").inner_text()
        assert page.locator(".pw-stale").count() == 1
        assert page.locator(HEADLINE).inner_text() == said
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_typed_number_is_taken_and_echoed(lab: Lab) -> None:
    with opened(lab.browser, lab.url) as (page, seen):
        wait_for_panel(page)
        type_into(page, "Area", "90")
        page.get_by_text("Computed with Area 90").wait_for()
        assert "90" in page.locator(HEADLINE).inner_text()
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_case_with_faults_shows_its_sentences_in_place_of_the_panel(lab: Lab) -> None:
    book = lab.folder / workbook.DEMO_COPY / "assumptions.csv"
    kept = book.read_text(encoding="utf-8")
    book.write_text(kept.replace("discount_rate,,,,0.12", "discount_rate,,,,12"), encoding="utf-8")
    try:
        with opened(lab.browser, lab.url) as (page, seen):
            page.locator(".pw-faults").wait_for(timeout=START_MS)
            text = page.locator(".pw-faults").inner_text()
            assert "assumptions.csv line 2, discount_rate: found '12'" in text
            assert "write 0.12" in text
            assert went_well(seen), seen
    finally:
        book.write_text(kept, encoding="utf-8")


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_nothing_of_the_panel_lies_beyond_the_screen(lab: Lab, width: int) -> None:
    with opened(lab.browser, lab.url, width=width, height=1200) as (page, seen):
        wait_for_panel(page)
        page.wait_for_timeout(500)
        for part in (".pw-dial", ".pw-chart", HEADLINE, ".widget-text"):
            boxes = [element.bounding_box() for element in page.locator(f".pw-panel {part}").all()]
            assert boxes
            assert all(box and box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen


@pytest.mark.browser
def test_the_page_loaded_anew_shows_the_panel_again_and_its_dials_still_move(lab: Lab) -> None:
    with opened(lab.browser, lab.url) as (page, seen):
        wait_for_panel(page)
        page.reload()
        wait_for_panel(page)
        page.wait_for_timeout(2500)
        assert page.locator(HEADLINE).count() == 1
        said = page.locator(HEADLINE).inner_text()
        press(page, "Area", "ArrowRight")
        assert page.locator(HEADLINE).inner_text() != said
        assert went_well(seen), seen


WATER = "02_who_lifts_the_water.ipynb"
WATER_CHARTS = 9  # three calendars, one tank, three ledgers, carrying and pumping


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_the_water_notebook_shows_another_season_and_follows_a_dial(lab: Lab, width: int) -> None:
    with opened(lab.browser, notebook_url(lab.url, WATER), width=width, height=1200) as (page, seen):
        page.locator(".pw-chart svg").nth(WATER_CHARTS - 1).wait_for(timeout=START_MS)
        page.wait_for_timeout(500)
        first = (
            page.locator(".pw-chart h3").first if page.locator(".pw-chart h3").count() else page.locator(".pw-chart")
        )
        dry = first.first.inner_text()
        page.get_by_role("button", name="late rains").click(timeout=START_MS)
        page.get_by_text("zucchini in late rains: water of the season").wait_for(timeout=MOVE_MS)
        assert page.locator(".pw-chart svg").count() == WATER_CHARTS
        page.get_by_role("button", name="warm dry").click()
        page.get_by_text("sweet pepper in warm dry: water of the season").wait_for(timeout=MOVE_MS)
        press(page, "Wick flow", "PageUp")
        page.get_by_text("Computed with Wick flow").wait_for(timeout=MOVE_MS)
        assert first.first.inner_text() != dry
        for part in (".pw-dial", ".pw-chart", ".widget-text", ".widget-toggle-buttons"):
            boxes = [box for element in page.locator(f".pw-panel {part}").all() if (box := element.bounding_box())]
            assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen
