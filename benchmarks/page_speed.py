"""How quick the bench page is: a changed value on the screen, the first page's weight, a saved step.

Run: .venv/bin/python benchmarks/page_speed.py. It starts the page on the loopback address with a record of its
own. With Playwright and Chromium the first figure is taken in the browser, from the input event to the drawing
replaced; without, from the request to the answer.
"""

from __future__ import annotations

import gzip
import re
import shutil
import socket
import statistics
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

import uvicorn

from groovewright.store import open_store
from groovewright.web import Bench, make_app
from groovewright.web.first_job import add_demo_job

ROUNDS = 60

IN_BROWSER = """async ([stage, name, low, high, rounds]) => {
  const input = document.getElementById(name), times = [];
  for (let k = 0; k < rounds; k += 1) {
    const value = (low + (high - low) * ((k * 7919) % 1000) / 1000).toFixed(3);
    const start = performance.now();
    const drawn = new Promise((done) => {
      const seen = () => { if (document.documentElement.dataset.shown?.includes(value)) requestAnimationFrame(done);
                           else setTimeout(seen, 1); };
      seen();
    });
    input.value = value;
    input.dispatchEvent(new Event("input", {bubbles: true}));
    await drawn;
    times.push(performance.now() - start);
  }
  return times;
}"""

TRIED = (
    ("square", "try-moved.turn_deg", -3.0, 3.0),
    ("square", "try-arm.pivot_to_spindle_mm", 215.0, 230.0),
    ("match", "try-arm.effective_mass_g", 6.0, 25.0),
    ("weigh", "try-weighed.force_gf", 1.4, 2.2),
    ("level", "try-weighed.force_gf", 1.4, 2.2),
)


def started(folder: Path) -> str:
    """Serve a record with the demo job and return its address."""
    store = open_store(str(folder / "records.sqlite3"))
    add_demo_job(store)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = uvicorn.Server(
        uvicorn.Config(make_app(Bench(store)), "127.0.0.1", port, log_level="warning", lifespan="off")
    )
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.02)
    return f"http://127.0.0.1:{port}"


def fetched(address: str, path: str) -> tuple[bytes, int]:
    """Return what an address holds, and the bytes that went over the line with compression asked for."""
    request = urllib.request.Request(address + path, headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(request) as answer:
        sent = answer.read()
        packed = answer.headers.get("content-encoding") == "gzip"
    return (gzip.decompress(sent) if packed else sent), len(sent)


def weight(address: str, path: str) -> int:
    """Return the bytes of a page with everything it loads, compressed as served."""
    text, total = fetched(address, path)
    names = set(re.findall(rb'(?:href|src)="(/static/[^"]+)"', text))
    for name in names:
        content, size = fetched(address, name.decode())
        total += size
        if b".css" in name:  # the letters that a page in English needs
            total += sum(
                fetched(address, font.decode())[1] for font in set(re.findall(rb"/static/\w+\.woff", content))
            )
    return total


def in_browser(address: str) -> None:
    """Print how long a changed value takes to be on the screen."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page()
        for stage, name, low, high in TRIED:
            page.goto(f"{address}/jobs/1/{stage}?whatif=1")
            page.evaluate(IN_BROWSER, [stage, name, low, high, 5])
            times = page.evaluate(IN_BROWSER, [stage, name, low, high, ROUNDS])
            row(f"on the screen: {stage}, {name.partition('-')[2]}", times)
        browser.close()


def row(name: str, times_ms: list[float]) -> None:
    """Print a line of the table."""
    ordered = sorted(times_ms)
    print(
        f"{name:<55} median {statistics.median(ordered):6.1f} ms   95 % {ordered[int(0.95 * len(ordered))]:6.1f} ms"
    )


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        address = started(Path(folder))
        for path in ("/", "/jobs/1/square", "/jobs/1/intake"):
            print(f"{'first page ' + path:<55} {weight(address, path) / 1000:6.1f} kB compressed, all in all")
        fetched(address, "/jobs/1/square")
        times = []
        for k in range(ROUNDS):
            start = time.perf_counter()
            fetched(address, f"/jobs/1/square/live?moved.turn_deg={k / 20 - 1.5:.3f}")
            times.append((time.perf_counter() - start) * 1000.0)
        row("answered: square, moved.turn_deg", times)
        in_browser(address)


if __name__ == "__main__":
    main()
