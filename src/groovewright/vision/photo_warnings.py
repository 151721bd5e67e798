"""What makes a reading from a photograph poor, in words, and what would help."""

from __future__ import annotations

from collections.abc import Sequence

from groovewright.vision.body import BodyView
from groovewright.vision.edge import Edge
from groovewright.vision.flag import FlagView
from groovewright.vision.load import Photo
from groovewright.vision.paper import looks_like_a_screen
from groovewright.vision.sheet_view import SheetView
from groovewright.vision.sight import FusedYaw, Sight

POOR_SD_DEG, POOR_FLAG_SD_DEG = 0.2, 0.1
WIDE_SD_DEG = 0.15
NOISY_PX = 0.35
FEW_MARKERS = 4
KNOWN_POORLY = "the yaw is known to"
"""How what is said of a single poor photo begins."""
PANEL_HIDDEN = (
    "the flag's upright panel isn't seen, so a fold off its line isn't noticed: look from the front, 22 to 38 "
    "degrees from upright"
)


def paper_warnings(photo: Photo, view: SheetView, curl_mm: float) -> list[str]:
    """Return what is to be said of the sheet itself."""
    found = []
    if curl_mm > 0.0:
        found.append(f"the sheet is curled by some {curl_mm:.1f} mm; lay it flat and take another photo")
    if looks_like_a_screen(photo, view):
        found.append(
            "the white paper shows a regular pattern, as of a screen: photograph the printed sheet itself, under the "
            "cartridge"
        )
    return found


def view_warnings(
    view: SheetView,
    flag: FlagView | None,
    body: BodyView | None,
    edges: Sequence[Edge],
    sights: Sequence[Sight],
    fused: FusedYaw,
) -> list[str]:
    """Return what is to be said of the flag, the body or the lines that were read, and of the grid under them."""
    found = [*_known_poorly(fused, flag), *_line_warnings(edges, sights, fused)]
    if flag is None and body is not None:
        found.append(
            "read from the body itself: one such photo in a hundred was off by more than half a degree; check in the "
            "picture that the lines lie on the cartridge, not on the headshell, or put the flag on"
        )
    if flag is None and body is None:
        found.append(
            "read from the marked line alone: check in the picture that it lies along the cartridge's own edge, not "
            "along a shadow or the headshell"
        )
    if view.markers < FEW_MARKERS:
        found.append(
            f"only {view.markers} of the grid's markers are read; take in the strips before and behind the grid"
        )
    if view.noise_px > NOISY_PX:
        found.append(
            f"the sheet fits to {view.noise_px:.2f} pixels only: it is not flat, or the photo is blurred"
        )
    if view.identity is None:
        found.append("the sheet's identity can't be read, so which nulls it was drawn for is not checked")
    if flag is not None and not flag.panel_seen:
        found.append(PANEL_HIDDEN)
    if flag is not None and abs(flag.lean_deg) > 5.0:
        found.append(f"the flag leans by {abs(flag.lean_deg):.0f} degrees; put it on level and flush")
    return found


def _known_poorly(fused: FusedYaw, flag: FlagView | None) -> list[str]:
    known = f"{KNOWN_POORLY} {1.96 * fused.yaw.sd:.1f} degree only"
    if flag is not None and fused.yaw.sd > POOR_FLAG_SD_DEG:
        return [
            f"{known}: look at the flag's upright panel from its front, 200 to 300 mm away, or add a photo from there"
        ]
    if fused.yaw.sd > POOR_SD_DEG:
        return [f"{known}: go nearer, mark more of the edge, put on the flag, or add a photo"]
    return []


def _line_warnings(edges: Sequence[Edge], sights: Sequence[Sight], fused: FusedYaw) -> list[str]:
    """Return what is to be said about the lines and how they agree."""
    found = []
    slanting = [s for s in sights if abs(s.lever) * s.slope_sd_deg > WIDE_SD_DEG]
    if slanting:
        found.append(
            f"the {slanting[0].kind} is seen from its side: a slope of one degree would read as "
            f"{abs(slanting[0].lever):.2f} degree; a photo from the other side cancels it"
        )
    for edge in edges:
        if edge.rival_deg is not None and abs(edge.rival_deg) > 0.3:
            found.append(
                f"beside the marked line runs a second edge, turned by {abs(edge.rival_deg):.1f} degree against it; "
                "check in the picture that the right one was taken"
            )
        if edge.share < 0.7:
            found.append(f"only {edge.share:.0%} of the marked line shows an edge")
    if len(sights) > 1 and fused.misfit > 2.5:
        found.append(f"the lines and the flag disagree by {fused.misfit:.1f} times what they should")
    return found
