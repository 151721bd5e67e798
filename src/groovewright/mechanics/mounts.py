"""Which stages apply: how a cartridge is held decides what can be set at all."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

STAGES = ("intake", "match", "mount", "weigh", "square", "level", "listen", "hand over")


class MountKind(Enum):
    """How the cartridge is held."""

    SLOTTED = "half-inch, slotted headshell"
    FIXED_HOLES = "half-inch, holes without slots"
    BAYONET = "half-inch, exchangeable bayonet headshell"
    PLUG_IN = "plug-in cartridge of fixed geometry"
    MOULDED_IN = "cartridge and arm in one piece"


@dataclass(frozen=True)
class MountRules:
    """What a kind of mount lets a person do.

    `reasons` says for each stage that doesn't apply, or applies only in part, why.
    """

    can_slide: bool
    can_turn: bool
    can_shim: bool
    skipped: tuple[str, ...]
    reasons: dict[str, str]


MOUNT_RULES = {
    MountKind.SLOTTED: MountRules(True, True, True, (), {}),
    MountKind.FIXED_HOLES: MountRules(
        False,
        True,
        True,
        (),
        {"square": "without slots there is no slide; only the play of the screws turns the cartridge"},
    ),
    MountKind.BAYONET: MountRules(
        True,
        True,
        True,
        (),
        {"level": "the bayonet's collar can be turned for azimuth only where its pin has play"},
    ),
    MountKind.PLUG_IN: MountRules(
        False,
        False,
        False,
        ("square",),
        {
            "square": "the plug fixes overhang and offset: there is nothing to square, only to check",
            "level": "height and azimuth are fixed by the plug; skating and force remain",
        },
    ),
    MountKind.MOULDED_IN: MountRules(
        False,
        False,
        False,
        ("match", "mount", "square"),
        {
            "match": "arm and cartridge are one design: only the stylus can be exchanged",
            "mount": "there is no cartridge to mount",
            "square": "the geometry is moulded in: there is nothing to square",
            "level": "height and azimuth are fixed; skating and force remain where the player lets them "
            "be set",
        },
    ),
}
"""Common practice for each kind of mount."""


def stages_for(kind: MountKind) -> tuple[str, ...]:
    """Return the stages that apply, in order."""
    return tuple(stage for stage in STAGES if stage not in MOUNT_RULES[kind].skipped)


def why_not(kind: MountKind, stage: str) -> str | None:
    """Return why a stage doesn't apply or applies only in part; None where all of it applies."""
    return MOUNT_RULES[kind].reasons.get(stage)
