"""What the tests of papers share: jobs, PDF text with its boxes, a browser if there is one."""

import re
import shutil
import subprocess
from dataclasses import dataclass
from importlib import resources

import pypdfium2
import pytest

from groovewright.job import fold, log_from_toml, plan
from groovewright.job.recording import last_heard
from groovewright.job.step_toml import step_toml

FINISH = """
[[step]]
moved = { slide_mm = 1.1, turn_deg = 0.6 }
[[step]]
look = { outer = 0.0, inner = 0.1 }
[[step]]
look = { outer = 0.1, inner = -0.1 }
[[step]]
antiskating = { setting = "dial at 1.8" }
"""


def demo_text():
    return resources.files("groovewright.demo").joinpath("fernhill.toml").read_text("utf-8")


@dataclass(frozen=True)
class PaperJob:
    log: tuple
    state: object
    planned: object


def job_from(text):
    log = log_from_toml(text.encode(), "job.toml")
    state = fold(log)
    return PaperJob(log, state, plan(state))


@pytest.fixture(scope="session")
def demo_job():
    return job_from(demo_text())


@pytest.fixture(scope="session")
def finished_job():
    dated = demo_text().replace('owner = "A. Sample"', 'owner = "A. Sample"\ndate = "2026-11-24"')
    again = step_toml(last_heard(job_from(dated).state))  # recorded once more after the last move
    return job_from(f"{dated}{FINISH}\n{again}")


@pytest.fixture(scope="session")
def without_recordings():
    """The demo job's text without its recordings, and the steps that finish it."""
    return re.sub(
        r"\[\[step\]\]\n\[step\.listened\]\n.*?(?=\[\[step\]\])", "", demo_text(), flags=re.DOTALL
    ), FINISH


@pytest.fixture(scope="session")
def job():
    return job_from


@dataclass(frozen=True)
class PdfPage:
    """A page as its reader gets it: text, where each run of it lies in mm, and the page's size."""

    text: str
    boxes: tuple
    width_mm: float
    height_mm: float


def pages_of(content):
    document = pypdfium2.PdfDocument(content)
    pages = []
    try:
        for index in range(len(document)):
            page = document[index]
            text = page.get_textpage()
            width, height = (size * 25.4 / 72.0 for size in page.get_size())
            boxes = [
                tuple(edge * 25.4 / 72.0 for edge in text.get_rect(number))
                for number in range(text.count_rects())
            ]
            words = text.get_text_bounded().replace("\u200b", "").replace("\r", "")
            pages.append(PdfPage(words, tuple(boxes), width, height))
            text.close()
            page.close()
    finally:
        document.close()
    return pages


@pytest.fixture(scope="session")
def read_pdf():
    return pages_of


@pytest.fixture(scope="session")
def chromium():
    """Return what runs Debian's Chromium on a file and gives back what it writes."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.skip("no chromium here: apt install chromium")

    def run(*arguments):
        command = [program, "--headless", "--no-sandbox", "--disable-gpu", *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout

    return run


def outside_references(html):
    """Return every address in a page that is not data inside it or a place on it."""
    addresses = re.findall(r"""(?:src|href|action|data|poster|srcset)\s*=\s*["']([^"']*)["']""", html)
    addresses += re.findall(r"""url\(\s*["']?([^"')]*)""", html)
    addresses += re.findall(r"@import\s+[\"']?([^\"';]*)", html)
    return [address for address in addresses if not address.startswith(("data:", "#"))]


@pytest.fixture(scope="session")
def references():
    return outside_references
