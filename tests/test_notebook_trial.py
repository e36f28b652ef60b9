"""The trial notebook in a real browser: what it shows, chosen by keyboard, wide and narrow, with no outside request."""

import pytest
from playwright.sync_api import Page

from browser import Lab, notebook_url, opened
from test_notebooks import MOVE_MS, START_MS, went_well

NOTEBOOK = "04_what_did_the_trial_show.ipynb"
CHARTS = 7  # by plot, ratios by treatment, ratios by outcome, two factors, pickings, fruit, water


def wait_for_panel(page: Page) -> None:
    page.locator(".pw-chart svg").nth(CHARTS - 1).wait_for(timeout=START_MS)
    page.wait_for_timeout(500)


def choose(page: Page, name: str, keys: str) -> None:
    """Choose in a list by keyboard: the letters its entry begins with."""
    page.get_by_label(name, exact=True).focus()
    page.keyboard.type(keys)
    page.keyboard.press("Enter")


@pytest.mark.browser
@pytest.mark.parametrize("width", [1024, 390])
def test_another_outcome_and_reference_are_chosen_by_keyboard(lab: Lab, width: int) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), width=width, height=1200) as (page, seen):
        wait_for_panel(page)
        assert "No difference shown between Wick-fed tank and Well and drip" in page.locator(".pw-panel").inner_text()
        choose(page, "Outcome", "Water a")
        page.get_by_text("Water applied, mean over blocks").wait_for(timeout=MOVE_MS)
        choose(page, "Reference", "Hand")
        page.get_by_text("against Hand watering, all plots").wait_for(timeout=MOVE_MS)
        assert page.locator(".pw-chart svg").count() == CHARTS
        for part in (".pw-chart", ".widget-dropdown", ".widget-button", ".widget-html"):
            boxes = [box for element in page.locator(f".pw-panel {part}").all() if (box := element.bounding_box())]
            assert boxes
            assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), part
        assert went_well(seen), seen


@pytest.mark.browser
def test_a_plot_is_left_out_with_a_reason_and_both_results_are_on_the_page(lab: Lab) -> None:
    with opened(lab.browser, notebook_url(lab.url, NOTEBOOK), width=1024, height=1200) as (page, seen):
        wait_for_panel(page)
        page.get_by_text("Leave plots out, and see both results").click()
        page.get_by_label("Plot to leave out", exact=True).select_option("P10")
        page.get_by_role("button", name="Leave the plot out").press("Enter")
        page.get_by_text("P10 cannot be left out without a reason.").wait_for(timeout=MOVE_MS)
        page.get_by_label("Because", exact=True).fill("flooded")
        page.get_by_label("Because", exact=True).press("Tab")
        page.get_by_role("button", name="Leave the plot out").press("Enter")
        page.get_by_text("Shown also without P10 (flooded).").wait_for(timeout=MOVE_MS)
        assert "both ways" in page.locator(".pw-panel").inner_text()
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
