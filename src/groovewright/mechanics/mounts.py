"""How a cartridge is held decides what can be set at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Mount:
    """What a way of holding a cartridge lets a person do.

    `skipped` names the stages that don't apply; `reasons` says for these, and for those that apply only in
    part, why.
    """

    name: str
    can_slide: bool = True
    can_lean: bool = True
    skipped: tuple[str, ...] = ()
    reasons: Mapping[str, str] = field(default_factory=dict)


MOUNTS = {
    "slotted": Mount("half-inch, slotted headshell"),
    "bayonet": Mount("half-inch, exchangeable bayonet headshell with slots"),
    "fixed-holes": Mount(
        "half-inch, holes without slots",
        can_slide=False,
        reasons={"square": "Without slots there is no slide: this is what the holes give."},
    ),
    "plug-in": Mount(
        "plug-in cartridge of fixed geometry",
        can_slide=False,
        can_lean=False,
        reasons={
            "square": "The plug fixes overhang and offset: there is nothing to square, and this is what it gives.",
            "level": "The plug fixes height and azimuth; anti-skating and force remain.",
        },
    ),
    "moulded-in": Mount(
        "cartridge and arm in one piece",
        can_slide=False,
        can_lean=False,
        skipped=("match", "mount"),
        reasons={
            "match": "Arm and cartridge are one design: only the stylus can be exchanged.",
            "mount": "There is no cartridge to mount: exchange the stylus.",
            "square": "The geometry is moulded in: there is nothing to square, and this is what it is.",
            "level": "Height and azimuth are moulded in; anti-skating and force remain where they can be set.",
        },
    ),
}
"""Common practice for each way of holding a cartridge."""

FIXED_HEADSHELLS = tuple(name for name, mount in MOUNTS.items() if not mount.can_slide)
"""Where nothing slides: the arm's own geometry is the only one that can be had."""
