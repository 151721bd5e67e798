"""From content to one self-contained HTML file: its own style and letters, nothing from outside."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from groovewright.report.picture import DARK, LIGHT, inline_svg
from groovewright.report.typesetting import TEMPLATES
from groovewright.sheets.drawing import Drawing
from groovewright.sheets.lettering import font_face_css

if TYPE_CHECKING:
    from jinja2 import Environment


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(
    template: str,
    content: Mapping[str, Any],
    drawings: Mapping[str, Drawing],
    *,
    letters: str,
    script: str = "",
    sheet: str = "",
) -> str:
    """Return the file: `template` is a file of the folder `templates`; every value in it is escaped.

    Parameters
    ----------
    letters : str
        All text that the page shows, for the letters that travel with it.
    script : str
        The page's one script, if any: the policy in its head allows exactly this text and no other.
    sheet : str
        A sheet as SVG that is shown, and printed on a page of its own, as it is.
    """
    from markupsafe import Markup

    every = letters + "".join(box.text for drawing in drawings.values() for box in drawing.texts)
    style = "\n".join(
        (scheme_css(), (TEMPLATES / "look.css").read_text("utf-8"), font_face_css([every, PLAIN_LETTERS]))
    )
    # style and script are the house's own files; every picture is built by the house and escapes its text
    text = (
        _environment()
        .get_template(template)
        .render(
            content,
            picture={name: Markup(inline_svg(drawing)) for name, drawing in drawings.items()},
            sheet_image=svg_data(sheet) if sheet else "",
            style=Markup(style),
            script=Markup(script),
            policy=_policy(style, script),
        )
    )
    return text.rstrip() + "\n"


PLAIN_LETTERS = "".join(chr(code) for code in range(0x20, 0x7F)) + "±°−–…×Ωµ²"
"""What the templates themselves are written in; the tick comes from the reader's own fonts."""


def svg_data(svg: str) -> str:
    """Return an SVG file as an address that holds it."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def scheme_css() -> str:
    """Return the colours of both schemes as custom properties; print is always on paper."""
    light, dark = (
        ";".join(f"--{name}:{value}" for name, value in scheme.items()) for scheme in (LIGHT, DARK)
    )
    return (
        f":root{{color-scheme:light dark;{light}}}"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    )


def _policy(style: str, script: str) -> str:
    """Return the content security policy (W3C CSP Level 3): nothing but this style, script and own data."""
    rules = ["default-src 'none'", "img-src data:", "font-src data:", f"style-src {_digest(style)}"]
    if script:
        rules.append(f"script-src {_digest(script)}")
    return "; ".join([*rules, "base-uri 'none'", "form-action 'none'"])


def _digest(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"
