"""The handover paper as one self-contained HTML file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict

from groovewright.report.handover import Handover
from groovewright.report.handover_pdf import foot, heard_data
from groovewright.report.page import page, svg_data
from groovewright.report.qr import code_picture
from groovewright.report.stage_charts import Chart


def handover_html(content: Handover, *, charts: Sequence[Chart] = ()) -> str:
    """Return the paper as HTML; the same content gives the same text."""
    drawings = {**content.drawings, "code": code_picture(content.code_text)}
    values = {field: getattr(content, field) for field in content.__dataclass_fields__ if field != "drawings"}
    words = {
        **values,
        "heard": heard_data(content),
        "parts": [asdict(part) for part in content.parts],
        "settings": [asdict(row) for row in content.settings],
        "charts": [(svg_data(chart.svg), chart.alt, chart.caption) for chart in charts],
        "foot": foot(content),
        "whom": [
            *((name, value) for name, value in (("For", content.owner), ("Date", content.date)) if value),
            *content.things,
        ],
    }
    return page(
        "handover.html", words, drawings, letters=json.dumps({**words, "charts": []}, ensure_ascii=False)
    )
