"""Options that several commands share, each read into what the house works with."""

from __future__ import annotations

from typing import Any

import click

from groovewright.geometry import CRITERIA, Alignment, align, alignment_for_nulls
from groovewright.quantities import GrooveRange, InputError, parse_groove_range


class GroovesType(click.ParamType[GrooveRange]):
    """A name of the groove-range table, or INNER:OUTER in mm."""

    name = "grooves"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> GrooveRange:
        """Return the range."""
        return value if isinstance(value, GrooveRange) else parse_groove_range(str(value))


class PairType(click.ParamType[tuple[float, float]]):
    """Two numbers with a colon between them, such as those of `example`."""

    def __init__(self, what: str, example: str) -> None:
        self.name = what
        self.example = example

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return both numbers."""
        if isinstance(value, tuple):
            return value
        try:
            first, second = (float(part) for part in str(value).split(":"))
        except ValueError:
            option = param.opts[0] if param else self.name
            raise InputError(f"{option} '{value}' is not two numbers such as {self.example}") from None
        return first, second


class NumberListType(click.ParamType[list[float]]):
    """Numbers with commas between: 50,100,150."""

    name = "LIST"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> list[float]:
        """Return the numbers."""
        if isinstance(value, list):
            return value
        try:
            return [float(part) for part in str(value).split(",")]
        except ValueError:
            option = param.opts[0] if param else self.name
            raise InputError(f"{option} '{value}' is not a list of numbers such as 50,100,150") from None


pivot_option = click.option(
    "--pivot-to-spindle", "pivot_to_spindle_mm", type=float, required=True, metavar="MM",
    help="Pivot-to-spindle distance.",
)  # fmt: skip
criterion_option = click.option(
    "--criterion", type=click.Choice(CRITERIA), default="lofgren-a", show_default=True,
    help="Where the nulls belong.",
)  # fmt: skip
grooves_option = click.option(
    "--grooves", type=GroovesType(), default="lp", show_default=True, metavar="RANGE",
    help="Modulated grooves: a record's name (lp, lp-din, lp-jis, 25cm, 17cm) or INNER:OUTER in mm.",
)  # fmt: skip
nulls_option = click.option(
    "--nulls",
    type=PairType("nulls", "66.0:120.9"),
    metavar="INNER:OUTER",
    help="Null radii in mm, in place of a criterion.",
)
force_option = click.option("--force", is_flag=True, help="Replace files that exist.")


def chosen_alignment(
    pivot_to_spindle_mm: float, criterion: str, grooves: GrooveRange, nulls: tuple[float, float] | None
) -> Alignment:
    """Return the alignment for given nulls, or for a criterion where none are given."""
    if nulls is not None:
        return alignment_for_nulls(pivot_to_spindle_mm, *nulls)
    return align(criterion, pivot_to_spindle_mm, grooves)
