"""The photo page in a browser: a photo from choosing to the next move, by thumb, by keys, without JavaScript."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs pytest-playwright")
from playwright.sync_api import Browser, Page, expect
from test_browser import AXE, SIZES, opened, picture

PHOTO = "/jobs/1/square/photo"


def no_axe_finding(page: Page) -> None:
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate(
        "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']})"
    )
    assert [(entry["id"], entry["nodes"][0]["html"][:120]) for entry in found["violations"]] == []


@pytest.mark.parametrize("size", SIZES)
def test_a_photo_is_read_looked_at_and_taken(
    browser: Browser, address: str, photo_files: dict[str, Path], size: str
) -> None:
    scheme = "dark" if size == "tablet" else "light"
    context, page, wrong = opened(browser, address, size, color_scheme=scheme)
    page.goto("/jobs/1/square")
    page.get_by_role("link", name="Read it from a photo").click()
    picture(page, size, "photo-how")
    no_axe_finding(page)
    page.set_input_files("#photo-file", photo_files["left"])
    expect(page.get_by_role("status").first).to_contain_text("points out (counter-clockwise)")
    expect(page.locator("img").nth(1)).to_have_js_property("complete", True)
    picture(page, size, "photo-read")
    no_axe_finding(page)
    page.locator("#another summary").click()
    page.set_input_files("#photo-file", photo_files["right"])
    expect(page.get_by_role("heading", name="Photo 2")).to_be_visible()
    picture(page, size, "photo-two")
    page.get_by_role("button", name="Take this reading").click()
    expect(page).to_have_url(f"{address}/jobs/1/square")
    page.goto("/jobs/1/history")
    expect(page.locator("main")).to_contain_text("look at the sheet (2 photos, flag)")
    page.goto("/jobs/1/square")
    page.locator("#undo").click()
    expect(page.locator("#saved")).to_contain_text("Saved")
    assert wrong == []
    context.close()


def test_a_line_is_dragged_by_mouse_and_moved_by_keys(
    browser: Browser, address: str, photo_files: dict[str, Path]
) -> None:
    context, page, wrong = opened(browser, address, "laptop")
    page.goto(PHOTO)
    page.set_input_files("#photo-file", photo_files["bare"])
    handle = page.get_by_role("button", name="One end of the line")
    expect(handle).to_be_visible()
    x, y = (float(page.input_value(f"[name={name}]")) for name in ("x1", "y1"))
    handle.scroll_into_view_if_needed()
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    assert float(page.input_value("[name=x1]")) == pytest.approx(x + 2.0)
    assert float(page.input_value("[name=y1]")) == pytest.approx(y - 25.0)
    box = handle.bounding_box()
    assert box is not None
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 60, middle[1] - 10, steps=4)
    expect(page.locator("canvas.loupe")).to_be_visible()
    picture(page, "laptop", "photo-line")
    page.mouse.up()
    expect(page.locator("canvas.loupe")).to_be_hidden()
    assert float(page.input_value("[name=x1]")) > x + 50.0
    assert wrong == []
    context.close()


def test_the_photo_page_goes_without_javascript(
    browser: Browser, address: str, photo_files: dict[str, Path]
) -> None:
    context, page, wrong = opened(browser, address, "phone", java_script_enabled=False)
    page.goto(PHOTO)
    page.set_input_files("#photo-file", photo_files["left"])
    page.get_by_role("button", name="Read it").click()
    expect(page.locator(".sentence")).to_contain_text("At the outer point")
    page.locator("summary", has_text="Mark a line").click()
    page.fill("[name=x1]", "nowhere")
    for name in ("y1", "x2", "y2"):
        page.fill(f"[name={name}]", "100")
    page.get_by_role("button", name="Read along this line").click()
    expect(page.get_by_role("alert")).to_contain_text("is not a number of pixels")
    page.get_by_role("button", name="Reject: delete this photo").click()
    expect(page.get_by_role("heading", name="How to take it")).to_be_visible()
    assert wrong == []
    context.close()
