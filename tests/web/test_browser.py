"""The bench page in a browser (Debian's Chromium): the whole job, as a person does it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("playwright.sync_api", reason="needs pytest-playwright")
from playwright.sync_api import Browser, BrowserContext, Page, expect

BUILD = Path(__file__).parents[2] / "build" / "screenshots"
AXE = Path(__file__).with_name("axe") / "axe.min.js"
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "laptop": (1440, 900)}
STAGES = ("intake", "match", "mount", "weigh", "square", "level", "listen", "handover")
OTHER_PAGES = (
    "",
    "new",
    "forget",
    "devices",
    "jobs/1/sheet",
    "jobs/1/distance",
    "jobs/1/history",
    "jobs/999",
)


def opened(
    browser: Browser, address: str, size: str, **options: Any
) -> tuple[BrowserContext, Page, list[str]]:
    """A page whose console errors and requests to elsewhere end up in the list."""
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=size != "laptop", base_url=address, **options
    )
    context.set_default_timeout(15_000)
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "request",
        lambda sent: wrong.append(sent.url) if not sent.url.startswith((address, "data:")) else None,
    )
    return context, page, wrong


def picture(page: Page, size: str, name: str) -> None:
    """Keep a picture, and see that nothing is wider than the screen."""
    BUILD.mkdir(parents=True, exist_ok=True)
    page.evaluate("window.scrollTo(0, 0)")  # so that the bar of stages stands where it belongs
    page.screenshot(path=BUILD / f"{size}-{name}.png", full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0, (
        f"{size} {name} overflows"
    )


def step_saved(page: Page) -> int:
    expect(page.locator("#saved")).to_contain_text("Saved, step")
    return int(page.locator("#page").get_attribute("data-sequence") or "0")


def wait_saved(page: Page, before: int) -> int:
    expect(page.locator("#page")).not_to_have_attribute("data-sequence", str(before))
    return step_saved(page)


def begin(page: Page) -> None:
    page.goto("/new")
    for label, text in (
        ("What is to be done", "New cartridge for the Fernhill 3"), ("Owner", "A. Sample"), ("Player", "Fernhill 3"),
        ("Arm", "Fernhill F9"), ("Cartridge that comes out", "Oakmoss P1"), ("Cartridge that goes in", "Brightwater 5"),
    ):  # fmt: skip
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_role("button", name="Begin the job").click()
    page.wait_for_url("**/intake")


def do_stages(page: Page, size: str) -> None:
    """From intake to handover. What is known of the arm and cartridges came with their names."""
    picture(page, size, "1-intake")
    number = step_saved(page)
    sliding = page.locator('[data-for="arm-arm.pivot_to_spindle_mm"]')
    expect(page.locator('[id="arm-arm.pivot_to_spindle_mm"]')).to_have_value("222")
    page.locator('[id="arm-arm.pivot_to_spindle_mm"]').fill("8 3/4 in")
    page.keyboard.press("Tab")
    number = wait_saved(page, number)
    expect(page.locator('[id="arm-arm.pivot_to_spindle_mm"]')).to_have_value("222.25")
    sliding.fill("222")
    number = wait_saved(page, number)
    page.locator("#next").click()
    page.wait_for_url("**/match")
    expect(page.locator("#say")).to_contain_text("suit each other")
    picture(page, size, "2-match")
    page.locator("#next").click()
    page.wait_for_url("**/mount")
    picture(page, size, "3-mount")
    number = step_saved(page)
    for _ in range(6):
        page.locator(".following button").click()
        number = wait_saved(page, number)
    expect(page.locator("#say")).to_contain_text("Mounted")
    page.locator("#next").click()
    page.wait_for_url("**/weigh")
    for force in ("1.83", "1.80", "1.82"):
        page.locator('[id="weighed-weighed.force_gf"]').fill(force)
        page.get_by_role("button", name="Save the reading").click()
        number = wait_saved(page, number)
    expect(page.locator("#say")).to_contain_text("The force is right")
    picture(page, size, "4-weigh")
    page.locator("#next").click()
    page.wait_for_url("**/square")
    square_it(page, size, number)
    page.locator("#next").click()
    page.wait_for_url("**/level")
    number = step_saved(page)
    page.get_by_label("Set to").fill("dial at 1.8")
    page.get_by_role("button", name="Save the setting").click()
    number = wait_saved(page, number)
    picture(page, size, "6-level")
    page.locator("#next").click()
    page.wait_for_url("**/listen")
    expect(page.locator("#say")).to_contain_text("Play a record of test tones")
    picture(page, size, "7-listen")
    page.locator("#more-listen_closed summary").click()
    page.get_by_label("Why not").fill("no test record at hand")
    page.get_by_role("button", name="Settle without it").click()
    wait_saved(page, number)
    expect(page.locator("#say")).to_contain_text("Not proved by a recording: no test record at hand")
    page.locator("#next").click()
    page.wait_for_url("**/handover")
    picture(page, size, "8-handover")
    expect(page.locator("#say")).to_contain_text("hand it over")
    with page.expect_download() as download:
        page.evaluate("document.querySelector('a[href$=\"handover.html\"]').click()")
    assert b"Brightwater 5" in Path(download.value.path()).read_bytes()


def look(page: Page, number: int, outer: str, inner: str) -> int:
    if page.locator("#more-look").count():
        page.locator("#more-look").evaluate("entry => { entry.open = true }")
    page.locator('[id="look-look.outer"]').fill(outer)
    page.locator('[id="look-look.inner"]').fill(inner)
    page.get_by_role("button", name="Save the look").click()
    return wait_saved(page, number)


def square_it(page: Page, size: str, number: int) -> None:
    number = look(page, number, "0.1", "-1,2")
    picture(page, size, "5-square")
    expect(page.locator("#say")).to_contain_text("Slide it")
    page.get_by_role("button", name="Moved like this: save").click()
    number = wait_saved(page, number)
    for _ in range(6):
        number = look(page, number, "0", "0.1")
        if "Stop" in page.locator("#say").inner_text() or "stop" in page.locator("#say").inner_text():
            break
    expect(page.locator("#say")).to_contain_text("done")


@pytest.mark.parametrize("size", SIZES)
def test_the_whole_job_from_intake_to_handover_at_three_sizes(
    browser: Browser, address: str, size: str
) -> None:
    context, page, wrong = opened(browser, address, size)
    begin(page)
    do_stages(page, size)
    context.close()
    assert wrong == []


def test_the_whole_job_goes_without_javascript(browser: Browser, address: str) -> None:
    context, page, wrong = opened(browser, address, "phone", java_script_enabled=False)
    begin(page)
    page.locator("#next").click()
    page.locator("#next").click()
    for _ in range(6):
        page.locator(".following button").click()
    page.locator("#next").click()
    page.locator('[name="weighed.force_gf"]').fill("1.81")
    page.get_by_role("button", name="Save the reading").click()
    expect(page.locator("#say")).to_contain_text("The force is right")
    page.locator("#next").click()
    page.locator('[name="look.outer"]').fill("square")
    page.locator('[name="look.inner"]').fill("slightly out")
    page.get_by_role("button", name="Save the look").click()
    expect(page.locator("#say")).to_contain_text("Slide it")
    page.locator("#undo").click()
    expect(page.locator("#say")).to_contain_text("look at both points")
    page.locator("#redo").click()
    expect(page.locator("#say")).to_contain_text("Slide it")
    page.locator("#whatif").click()
    page.locator('[name="moved.slide_mm"]').fill("-2")
    page.get_by_role("button", name="Show it").click()
    expect(page.locator("#say")).to_contain_text("nothing here is saved")
    page.locator("#next").click()
    page.get_by_label("Set to").fill("dial at 1.8")
    page.get_by_role("button", name="Save the setting").click()
    page.locator("#next").click()
    page.locator("#next").click()
    expect(page.locator("#say")).to_contain_text("Not finished. Next, square")
    context.close()
    assert wrong == []


def test_the_keyboard_alone_is_enough(browser: Browser, address: str) -> None:
    context, page, wrong = opened(browser, address, "laptop")
    page.goto("/")

    def to(selector: str) -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert outline != "none", f"focus on {selector} can't be seen"
                return
        pytest.fail(f"{selector} can't be reached by keyboard")

    to('a[href="/jobs/1"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/1/square")
    number = step_saved(page)
    page.keyboard.press("Alt+KeyB")
    page.wait_for_url("**/weigh")
    to('[id="weighed-weighed.force_gf"]')
    page.keyboard.press("ArrowUp")
    expect(page.locator('[id="weighed-weighed.force_gf"]')).to_have_value("1.81")
    page.keyboard.press("Enter")
    number = wait_saved(page, number)
    expect(page.locator("#undo")).to_have_attribute("title", "Undo weighing: the gauge reads 1.81 gf")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Control+KeyZ")
    number = wait_saved(page, number)
    page.keyboard.press("Control+Shift+KeyZ")
    number = wait_saved(page, number)
    page.keyboard.press("Control+KeyZ")
    wait_saved(page, number)
    page.keyboard.press("Alt+KeyN")
    page.wait_for_url("**/square")
    page.keyboard.press("Alt+KeyW")
    page.wait_for_url("**whatif=1")
    context.close()
    assert wrong == []


def test_the_drawing_follows_the_slider_and_nothing_is_saved(browser: Browser, address: str) -> None:
    context, page, wrong = opened(browser, address, "tablet")
    page.goto("/jobs/1/square?whatif=1")
    before = page.locator("#draw").inner_html()
    sequence = page.locator("#page").get_attribute("data-sequence")
    page.locator('[data-for="try-moved.turn_deg"]').fill("4")
    expect(page.locator("#say")).to_contain_text("Tried out, not saved")
    assert page.locator("#draw").inner_html() != before
    page.goto("/jobs/1/square")
    assert page.locator("#page").get_attribute("data-sequence") == sequence
    assert page.locator("#draw").inner_html() == before
    context.close()
    assert wrong == []


def test_two_benches_see_each_other_and_nothing_is_overwritten(browser: Browser, address: str) -> None:
    context, page, _ = opened(browser, address, "phone")
    begin(page)
    other = context.new_page()
    other.goto(page.url.replace("intake", "weigh"))
    page.goto(page.url.replace("intake", "weigh"))
    number = step_saved(page)
    other.locator('[id="weighed-weighed.force_gf"]').fill("1.95")
    other.get_by_role("button", name="Save the reading").click()
    wait_saved(other, number)
    page.locator('[id="weighed-weighed.force_gf"]').fill("1.77")
    page.get_by_role("button", name="Save the reading").click()
    expect(page.locator("[role=alert]")).to_contain_text("the gauge reads 1.95 gf")
    expect(page.locator("#saved")).to_have_text("Not saved")
    expect(page.locator('[id="weighed-weighed.force_gf"]')).to_have_value("1.77")
    page.get_by_role("button", name="Save the reading").click()
    step_saved(page)
    context.close()


@pytest.mark.parametrize(("size", "scheme"), [("phone", "dark"), ("laptop", "light")])
def test_axe_finds_nothing_on_any_page(browser: Browser, address: str, scheme: str, size: str) -> None:
    """axe-core with the rules of WCAG 2.0 to 2.2, levels A and AA, contrast among them."""
    context, page, _ = opened(browser, address, size, color_scheme=scheme)
    script = AXE.read_text("utf-8")
    found = []
    stages = tuple(f"jobs/1/{stage}" for stage in STAGES)
    for path in (*stages, "jobs/1/square?whatif=1", *OTHER_PAGES):
        page.goto("/" + path)
        page.evaluate(script)  # by the debugger: the page's own policy lets no script in
        page.evaluate("document.querySelectorAll('details').forEach(entry => { entry.open = true })")
        result = page.evaluate(
            "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        found += [(path, rule["id"], rule["nodes"][0]["html"][:160]) for rule in result["violations"]]
        picture(
            page,
            size if scheme == "light" else f"{size}-dark",
            "all-" + (path.replace("/", "-") or "list").split("?")[0],
        )
    context.close()
    assert found == []


def test_axe_does_find_what_is_wrong(browser: Browser, address: str) -> None:
    context, page, _ = opened(browser, address, "phone")
    page.goto("/jobs/1/weigh")
    page.evaluate(AXE.read_text("utf-8"))
    page.evaluate("document.querySelector('.sentence').setAttribute('role', 'img')")
    page.evaluate("document.querySelector('#main').append(document.createElement('img'))")
    result = page.evaluate("axe.run({runOnly: ['wcag2a']})")
    assert "image-alt" in [rule["id"] for rule in result["violations"]]
    context.close()


def test_without_a_connection_the_page_says_that_nothing_was_saved(browser: Browser, address: str) -> None:
    context, page, _ = opened(browser, address, "phone")
    page.goto("/jobs/1/weigh")
    context.set_offline(True)
    page.locator('[id="weighed-weighed.force_gf"]').fill("1.9")
    page.get_by_role("button", name="Save the reading").click()
    expect(page.locator("#saved")).to_contain_text("Not saved")
    context.close()
