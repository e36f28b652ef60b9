"""The notebook on planning a trial, opened, read and moved in a real browser."""

from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser import Lab, notebook_url, opened
from plotworth import workbook
from test_notebooks import MOVE_MS, START_MS, press, went_well

NOTEBOOK = "03_what_can_this_trial_show.ipynb"
CHARTS = 4
PARTS = (".pw-dial", ".pw-chart", ".widget-text", ".widget-toggle-buttons", ".widget-dropdown", ".pw-headline")


def wait_for_panel(page: Page) -> None:
    page.locator(".pw-chart svg").nth(CHARTS - 1).wait_for(timeout=START_MS)
    page.wait_for_timeout(500)


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_a_slider_moved_by_keyboard_changes_headline_card_and_chart_and_nothing_lies_beyond_the_screen(
    lab: Lab, width: int
) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), width=width, height=1200) as (page, seen):
        wait_for_panel(page)
        headline, card = page.locator(".pw-headline"), page.locator(".pw-figures").first
        said, figures = headline.inner_text(), card.inner_text()
        assert said.startswith("7 blocks show")
        press(page, "Blocks", "ArrowRight")
        page.get_by_text("Computed with Blocks 8;").wait_for(timeout=MOVE_MS)
        assert headline.inner_text().startswith("8 blocks show")
        assert card.inner_text() != figures
        for part in PARTS:
            boxes = [box for element in page.locator(f".pw-panel {part}").all() if (box := element.bounding_box())]
            assert boxes, part
            assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen


@pytest.mark.browser
def test_another_design_and_other_treatments_are_taken_and_refused_in_the_page(lab: Lab) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), height=1200) as (page, seen):
        wait_for_panel(page)
        page.get_by_role("button", name="Complete blocks").click()
        page.get_by_text("between two treatments from").wait_for(timeout=MOVE_MS)
        box = page.get_by_role("textbox", name="Treatments")
        box.fill("tank")
        box.press("Enter")
        page.get_by_text("needs two levels or more").wait_for(timeout=MOVE_MS)
        page.locator(".pw-stale-text").first.wait_for(timeout=MOVE_MS)
        box.fill("tank, drip, hand, none")
        box.press("Enter")
        page.get_by_text("28 plots in 7 blocks").first.wait_for(timeout=MOVE_MS)  # 4 treatments x 7 blocks
        page.locator(".pw-stale-text").first.wait_for(state="detached", timeout=MOVE_MS)
        assert page.locator(".pw-stale").count() == 0
        assert page.locator(".pw-chart svg").count() == CHARTS
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_folder_that_is_no_case_yet_still_opens_the_panel(lab: Lab) -> None:
    settings = lab.folder / workbook.DEMO_COPY / "assumptions.csv"
    kept = settings.read_text(encoding="utf-8")
    settings.unlink()
    try:
        with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), height=1200) as (page, seen):
            wait_for_panel(page)
            assert page.locator(".pw-headline").inner_text().startswith("4 blocks show")
            page.get_by_text("The case cannot be read yet").click()
            page.get_by_text("assumptions.csv").first.wait_for(timeout=MOVE_MS)
            assert went_well(seen), seen
    finally:
        settings.write_text(kept, encoding="utf-8")


def test_the_notebook_names_the_commands_that_draw_and_print(tmp_path: Path) -> None:
    """The line of the notebook, run as it is written there: it previews, and writes nothing."""
    import shlex

    import nbformat

    from plotworth.cli import main
    from small_case import write_case

    book = nbformat.read(Path(__file__).parent.parent / "notebooks" / NOTEBOOK, as_version=4)
    lines = [line.strip() for cell in book.cells for line in cell.source.splitlines()]
    (line,) = [line for line in lines if line.startswith("plotworth plan FOLDER --preview")]
    case = write_case(tmp_path, {"plots.csv": "plot,treatment,crop,net_area_m2\n", "harvests.csv": None})
    assert main(shlex.split(line.replace("FOLDER", str(case)))[1:]) == 0
    assert not (case / "plan.toml").exists()
    assert "plotworth new FOLDER --xlsx" in lines
