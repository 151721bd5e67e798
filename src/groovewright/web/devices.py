"""Other devices: the code at the bench, and the page where it is typed."""

from __future__ import annotations

import math
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse, Response

from groovewright.report.picture import inline_svg
from groovewright.report.qr import code_picture
from groovewright.web.bench import Bench, is_loopback
from groovewright.web.faults import NotThereError
from groovewright.web.render import bench_of, page, session_in
from groovewright.web.requests import Filled, filled
from groovewright.web.session import new_session

router = APIRouter(include_in_schema=False)


def pairing_address(bench: Bench) -> str:
    """Return the address with the code behind '#', which no browser sends and no log keeps."""
    return f"{bench.address}/pair#{bench.pairing.code}"


def spaced(code: str) -> str:
    """Return a code in two halves, easier to read across a bench."""
    half = len(code) // 2
    return f"{code[:half]} {code[half:]}"


@router.get("/devices", response_class=HTMLResponse)
def devices(request: Request) -> Response:
    """Show the code, at the bench only; another device does not see the code that lets others in."""
    bench = bench_of(request)
    if bench.lan and not _at_the_bench(request):
        raise NotThereError("The code is shown on the bench's own screen only.")
    address = pairing_address(bench) if bench.lan else ""
    picture = Markup(inline_svg(code_picture(address))) if bench.lan else ""
    return page(
        request, "devices.html", address=bench.address, code=spaced(bench.pairing.code), picture=picture
    )


def _at_the_bench(request: Request) -> bool:
    return request.client is not None and is_loopback(request.client.host)


@router.get("/pair", response_class=HTMLResponse)
def ask(request: Request) -> Response:
    """Ask for the code."""
    return page(request, "pair.html", problem="", paired=session_in(request).paired)


@router.post("/pair")
def pair(request: Request, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Let a device in that knows the code."""
    bench = bench_of(request)
    address = request.client.host if request.client else "unknown"
    wait = bench.pairing.wait_s(address)
    if wait > 0.0:
        text = f"Too many wrong codes. Wait {math.ceil(wait)} seconds and look at the bench for the code."
        answer = page(request, "pair.html", 429, problem=text, paired=False)
        answer.headers["retry-after"] = str(math.ceil(wait))
        return answer
    if not bench.pairing.try_code(address, form["code"][:40]):
        text = "That is not the code that the bench shows. Each code works once."
        return page(request, "pair.html", 403, problem=text, paired=False)
    # a new session, so that one from before pairing can't have been handed to this device
    request.state.new_session = new_session(bench.now(), paired=True)
    bench.tell(f"A device at {address} was paired. The next one pairs with {spaced(bench.pairing.code)}")
    return RedirectResponse("/", 303)
