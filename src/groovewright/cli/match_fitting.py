"""The parts of `groovewright match` about fitting: can it be balanced, is the body too tall."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from groovewright.quantities import InputError


@dataclass(frozen=True)
class Fitting:
    """Sentences, rows and values of what was asked; what is missing is named, not made up."""

    sentences: tuple[str, ...] = ()
    rows: tuple[tuple[str, str], ...] = ()
    values: dict[str, Any] = field(default_factory=dict)


def fitting_of(options: dict[str, Any]) -> Fitting:
    """Return what the options say about the counterweight and the body's height.

    Raises
    ------
    InputError
        Half of what one question needs is given.
    """
    balance, height = _balance(options), _height(options)
    return Fitting(
        balance.sentences + height.sentences, balance.rows + height.rows, {**balance.values, **height.values}
    )


def _balance(options: dict[str, Any]) -> Fitting:
    from groovewright.mechanics.balance import (
        Counterweight,
        arm_moment_from_balance_gmm,
        effective_mass_change_g,
        judge_balance,
    )

    names = ("counterweight", "floated", "force_gf", "effective_length_mm")
    given = [name for name in names[:3] if options[name] is not None]
    values: dict[str, Any] = {
        "counterweight_position_mm": None,
        "counterweight_verdict": "unknown",
        "effective_mass_change_g": None,
    }
    if not given:
        needs = "unknown, needs --counterweight, --floated and --force-gf"
        return Fitting(rows=(("counterweight", needs),), values=values)
    missing = [f"--{name.replace('_mm', '').replace('_', '-')}" for name in names if options[name] is None]
    if missing:
        raise InputError(f"for the counterweight {' and '.join(missing)} missing; give all of them or none")
    mass, nearest, farthest = options["counterweight"]
    front, stood = options["floated"]
    length = options["effective_length_mm"]
    moment = arm_moment_from_balance_gmm(
        front_mass_g=front,
        front_position_mm=length,
        counterweight_mass_g=mass,
        counterweight_position_mm=stood,
        force_gf=0.0,
        effective_length_mm=length,
    )
    found = judge_balance(
        arm_moment_gmm=float(moment),
        front_mass_g=options["cartridge_g"] + options["fastener_g"],
        front_position_mm=length,
        counterweight=Counterweight(mass, nearest, farthest),
        force_gf=options["force_gf"],
        effective_length_mm=length,
    )
    change = float(
        effective_mass_change_g(
            counterweight_mass_g=mass,
            from_position_mm=stood,
            to_position_mm=found.position_mm,
            effective_length_mm=length,
        )
    )
    rows = (
        ("counterweight", f"floats the arm {found.floating_mm:.1f} mm behind the bearing, "
         f"{found.position_mm:.1f} mm at {options['force_gf']:g} gf"),
        ("its move changes", f"effective mass by {change:+.2f} g"),
    )  # fmt: skip
    values = {
        "counterweight_position_mm": found.position_mm,
        "counterweight_floating_mm": found.floating_mm,
        "counterweight_verdict": found.verdict.code,
        "effective_mass_change_g": change,
    }
    return Fitting((found.verdict.sentence,), rows, values)


def _height(options: dict[str, Any]) -> Fitting:
    from groovewright.mechanics.clearance import arm_height_needed_mm, judge_height

    heights, travel = options["body_heights"], options["height_travel"]
    if heights is None and travel is None:
        needs = "unknown, needs --body-heights and --height-travel"
        return Fitting(rows=(("body height", needs),), values={"arm_height_needed_mm": None})
    if heights is None or travel is None:
        raise InputError(
            "--body-heights and --height-travel belong together: what is needed, and what there is"
        )
    needed = float(arm_height_needed_mm(old_body_height_mm=heights[0], new_body_height_mm=heights[1]))
    verdict = judge_height(needed, down_mm=travel[0], up_mm=travel[1])
    rows = (("body height", f"the arm has to go {needed:+.1f} mm (+ is up)"),)
    return Fitting(
        (verdict.sentence,), rows, {"arm_height_needed_mm": needed, "height_verdict": verdict.code}
    )
