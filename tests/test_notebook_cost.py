"""The notebook on money in a real browser: read and moved by keyboard, wide and narrow, with no outside request."""

import pytest
from playwright.sync_api import Page

from browser import Lab, notebook_url, opened
from test_notebooks import MOVE_MS, START_MS, press, went_well

NOTEBOOK = "05_what_does_it_cost.ipynb"
CHARTS = 7  # balances, before and after, calendar of cash, of work, views, a day of work, size


def wait_for_panel(page: Page) -> None:
    page.locator(".pw-chart svg").nth(CHARTS - 1).wait_for(timeout=START_MS)
    page.wait_for_timeout(500)


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_a_grant_by_keyboard_another_system_and_view_and_the_trail(lab: Lab, width: int) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), width=width, height=1200) as (page, seen):
        wait_for_panel(page)
        title = page.locator(".pw-chart h3, .pw-chart").nth(1)
        first = page.locator(".pw-charts").inner_text()
        press(page, "Grant of water committee", "ArrowRight")
        page.get_by_text("Computed with Grant of water committee").wait_for(timeout=MOVE_MS)
        assert page.locator(".pw-charts").inner_text() != first
        page.get_by_role("button", name="Well and drip").click()
        page.get_by_text("Cash by month: Well and drip").wait_for(timeout=MOVE_MS)
        page.get_by_role("button", name="Economic").click()
        page.get_by_text("Gross margins and worth (economic view)").wait_for(timeout=MOVE_MS)
        page.get_by_text("Where does this figure come from?").click()
        page.get_by_text("What moves it").wait_for(timeout=MOVE_MS)
        assert title.is_visible()
        assert page.locator(".pw-chart svg").count() == CHARTS
        for part in (".pw-dial", ".pw-chart", ".widget-dropdown", ".widget-toggle-buttons", ".widget-html"):
            boxes = [box for element in page.locator(f".pw-panel {part}").all() if (box := element.bounding_box())]
            assert boxes
            assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen


@pytest.mark.browser
def test_every_chart_has_its_table_and_its_spoken_text(lab: Lab) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK)) as (page, seen):
        wait_for_panel(page)
        charts = page.locator(".pw-chart")
        assert charts.count() == page.locator(".pw-chart details").count() == CHARTS
        named = [page.locator(".pw-chart [role=img]").nth(place) for place in range(CHARTS)]
        assert all(len(one.get_attribute("aria-label") or "") > 40 for one in named)
        assert went_well(seen), seen
