"""The handover paper as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from groovewright.report.handover import Handover, parsed_date
from groovewright.report.qr import code_picture
from groovewright.report.stage_charts import Chart
from groovewright.report.typesetting import typeset
from groovewright.sheets.papers import A4, Paper

PLAN_NOTE = (
    "Left: the player from above, the stylus at the outer point. Right: the cartridge over the grid of the sheet at "
    "each point."
)


def handover_pdf(content: Handover, *, paper: Paper = A4, charts: Sequence[Chart] = ()) -> bytes:
    """Return the paper as PDF; the same content gives the same bytes."""
    drawings = {**content.drawings, "code": code_picture(content.code_text)}
    data: dict[str, Any] = {
        "title": content.title,
        "author": content.shop,
        "shop": content.shop,
        "owner": content.owner,
        "date": content.date,
        "notes": content.notes,
        "things": content.things,
        "finished": content.finished,
        "headline": content.headline,
        "sentence": content.sentence,
        "settings": [(row.name, row.found, row.left, row.verdict) for row in content.settings],
        "heard": heard_data(content),
        "parts": [
            (part.name, part.status, part.sentence, part.rows, part.ticks, part.warnings, part.cautions)
            for part in content.parts
        ],
        "course": content.course,
        "cautions": content.cautions,
        "next_check": content.next_check,
        "whys": content.whys,
        "charts": [(chart.alt, chart.caption) for chart in charts],
        "plan_note": PLAN_NOTE if "outer" in drawings else PLAN_NOTE.split(" Right")[0],
        "foot": foot(content),
        "page": {"width": paper.width_mm, "height": paper.height_mm},
    }
    images = {f"chart{number}": chart.svg for number, chart in enumerate(charts)}
    return typeset("handover.typ", data, drawings, images=images, day=parsed_date(content.date))


def heard_data(content: Handover) -> dict[str, Any] | None:
    """Return what a recording proved; None where the paper says nothing of one."""
    heard = content.heard
    if heard is None:
        return None
    return {
        "sentence": heard.sentence,
        "rows": [(row.name, row.found, row.left, row.verdict) for row in heard.rows],
        "source": heard.source,
    }


def foot(content: Handover) -> str:
    """Return what the foot of every page says: short enough for one line."""
    parts = [part if len(part) <= 48 else part[:47] + "…" for part in (content.shop, content.title) if part]
    return ", ".join(parts)
