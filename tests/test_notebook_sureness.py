"""The notebook on size and sureness in a real browser: a slider, the button, wide and narrow, no outside request."""

import pytest
from playwright.sync_api import Page, expect

from browser import Lab, notebook_url, opened
from test_notebooks import MOVE_MS, START_MS, type_into, went_well

NOTEBOOK = "06_from_what_size.ipynb"
CHARTS = 2  # worth by area, the grid
FUTURES = 8  # spread, chances by area, years, settling; tornado, shares, grades, values of knowing
FEW = "500"


def wait_for_panel(page: Page) -> None:
    page.locator(".pw-chart svg").nth(CHARTS - 1).wait_for(timeout=START_MS)
    page.wait_for_timeout(500)


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_a_slider_moves_the_crossover_and_the_button_draws_futures_that_then_grey(lab: Lab, width: int) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), width=width, height=1200) as (page, seen):
        wait_for_panel(page)
        assert page.locator(".pw-chart svg").count() == CHARTS
        type_into(page, "Futures", FEW)
        page.get_by_role("button", name=f"Draw {FEW} futures").click()
        page.get_by_text(f"{FEW} futures, seed 1. Computed with the values of the book.").wait_for(timeout=START_MS)
        page.locator(".pw-chart svg").nth(CHARTS + FUTURES - 1).wait_for(timeout=MOVE_MS)
        assert page.locator(".pw-stale").count() == 0
        said = page.locator(".pw-verdicts").first.inner_text()
        page.locator(".widget-hslider", has_text="Distance to the source").locator(".noUi-handle").focus()
        page.keyboard.press("ArrowRight")
        expect(page.locator(".pw-verdicts").first).not_to_have_text(said, timeout=MOVE_MS)
        page.locator(".pw-stale").wait_for(timeout=MOVE_MS)
        assert "Draw again" in page.locator(".pw-stale .pw-note").inner_text()
        assert page.locator(".pw-chart svg").count() == CHARTS + FUTURES
        named = page.locator(".pw-chart [role=img]").all()
        assert all(len(one.get_attribute("aria-label") or "") > 40 for one in named)
        for part in (".pw-dial", ".pw-chart", ".widget-dropdown", ".widget-text", ".widget-button", ".widget-html"):
            boxes = [box for element in page.locator(f".pw-panel {part}").all() if (box := element.bounding_box())]
            assert boxes, part
            assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen
