"""A simulated bench: an arm with hidden errors, an eye that misreads and a hand that slips.

The true geometry is worked out from positions and directions in the plan, with vectors, and shares no
formula with the estimator that it judges.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from groovewright.geometry import Alignment
from groovewright.geometry.headshell import Headshell
from groovewright.quantities import FloatArray
from groovewright.squaring import Goal, Hand, Look, Move, Steps, Workpiece, YawReading, advise

MOST_LOOKS = 60
PHOTO_ERRORS = Path(__file__).with_name("photo_errors.csv")
"""A bench that is not done after this many looks gives up."""


@dataclass(frozen=True)
class Bench:
    """The truth that nobody at the bench can see.

    The arm is drawn along the x axis from the pivot at (0, 0); clockwise seen from above is positive, which
    in these axes means from x towards y. `holes` is the middle of the two holes, `body_deg` the direction
    of the body, `slots_deg` that of the slots.
    """

    pivot_to_spindle_mm: float
    holes: tuple[float, float]
    body_deg: float
    slots_deg: float
    holes_to_stylus_mm: float


def hidden_bench(
    aim: Alignment, headshell: Headshell, *, distance_error_mm: float, slide_mm: float, turn_deg: float
) -> Bench:
    """Return a bench that is off the true optimum by a slide and a turn, on an arm that was measured wrongly.

    The true optimum is the state with both yaws zero for the true pivot-to-spindle distance.
    """
    distance = aim.pivot_to_spindle_mm + distance_error_mm
    length = math.sqrt(distance**2 + aim.null_inner_mm * aim.null_outer_mm)
    offset = math.degrees(math.asin((aim.null_inner_mm + aim.null_outer_mm) / (2.0 * length)))
    slots = offset + headshell.slot_angle_deg
    stylus = np.array([length, 0.0])
    holes = stylus - headshell.holes_to_stylus_mm * _direction(offset) + slide_mm * _direction(slots)
    return Bench(
        distance, (float(holes[0]), float(holes[1])), offset + turn_deg, slots, headshell.holes_to_stylus_mm
    )


def _direction(angle_deg: float) -> FloatArray:
    return np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])


def true_yaw_deg(bench: Bench, radius_mm: float) -> float:
    """Return the angle from the groove's direction to the body, found from positions in the plan."""
    body = _direction(bench.body_deg)
    stylus = np.array(bench.holes) + bench.holes_to_stylus_mm * body
    reach = float(np.hypot(*stylus))
    # where the spindle is when the stylus stands at this radius: two circles, the one on the inner side
    along = (reach**2 + bench.pivot_to_spindle_mm**2 - radius_mm**2) / (2.0 * reach)
    aside = math.sqrt(bench.pivot_to_spindle_mm**2 - along**2)
    forward = stylus / reach
    inward = np.array([-forward[1], forward[0]])
    spindle = along * forward + aside * inward
    radial = (stylus - spindle) / radius_mm
    # square to the radius, the way the record moves under the stylus: away from the pivot
    groove = np.array([radial[1], -radial[0]])
    if groove @ forward < 0.0:
        groove = -groove
    return math.degrees(math.atan2(groove[0] * body[1] - groove[1] * body[0], groove @ body))


def moved(bench: Bench, slide_mm: float, turn_deg: float, hand: Hand, rng: np.random.Generator) -> Bench:
    """Return the bench after a person tried to slide and turn the cartridge."""
    slide = slide_mm + hand.slide_sd_mm * rng.standard_normal()
    turn = turn_deg + hand.turn_sd_deg * rng.standard_normal()
    holes = np.array(bench.holes) + slide * _direction(bench.slots_deg)
    return replace(bench, holes=(float(holes[0]), float(holes[1])), body_deg=bench.body_deg + turn)


@dataclass(frozen=True)
class Game:
    """How one bench was played: the true yaws at the end, and what it took.

    `called` holds what the tool stated and what was true after every look: (probability, within or not),
    and `covered` whether the 95 % intervals of both yaws held the truth.
    """

    outer_deg: float
    inner_deg: float
    looks: int
    moves: int
    stopped: bool
    called: tuple[tuple[float, bool], ...] = ()
    covered: tuple[bool, ...] = ()

    @property
    def error_deg(self) -> float:
        """The larger of the two true yaws, without sign."""
        return max(abs(self.outer_deg), abs(self.inner_deg))


Player = Callable[[Bench, Workpiece, Goal, np.random.Generator], Game]
Reader = Callable[[float, float, np.random.Generator], YawReading]
"""From a true yaw and the usual standard uncertainty, both in degrees, to what is read."""


def by_eye(yaw_deg: float, sd_deg: float, rng: np.random.Generator) -> YawReading:
    """Return a reading whose error is normal with the usual standard uncertainty."""
    seen = yaw_deg + sd_deg * rng.standard_normal()
    return YawReading(seen, seen, sd_deg)


def by_photo(measured: FloatArray) -> Reader:
    """Return a reader that errs as photographs did: it draws from their errors, with what each stated.

    `measured` holds for every photograph its error and its stated standard uncertainty, both in degrees.
    [shape=(photos, 2)] Either sign of an error is as likely.
    """

    def read(yaw_deg: float, _sd_deg: float, rng: np.random.Generator) -> YawReading:
        error, sd = measured[rng.integers(len(measured))]
        seen = yaw_deg + float(error) * float(rng.choice((-1.0, 1.0)))
        return YawReading(seen, seen, float(sd))

    return read


def photo_errors() -> FloatArray:
    """Return errors and stated standard uncertainties of rendered photographs of the flag, in degrees.

    They are those of the row "flag, as guided" in docs/vision.md. [shape=(300, 2)]
    """
    return np.loadtxt(PHOTO_ERRORS, delimiter=",", skiprows=2)


def play_with_tool(
    bench: Bench, work: Workpiece, goal: Goal, rng: np.random.Generator, read: Reader = by_eye
) -> Game:
    """Play a bench by the tool's advice until it says stop."""
    steps: Steps = ()
    moves, called, covered = 0, [], []
    for looks in range(1, MOST_LOOKS + 1):
        outer, inner = (true_yaw_deg(bench, radius) for radius in work.radii_mm)
        steps = (*steps, Look(*(read(yaw, goal.reading_sd_deg, rng) for yaw in (outer, inner))))
        advice = advise(work, steps, goal)
        within = max(abs(outer), abs(inner)) <= goal.tolerance_deg
        called.append((advice.probability_within_tolerance, within))
        covered += [
            abs(outer - advice.yaw_outer_deg) <= 1.959964 * advice.yaw_outer_sd_deg,
            abs(inner - advice.yaw_inner_deg) <= 1.959964 * advice.yaw_inner_sd_deg,
        ]
        if advice.verdict == "stop":
            return Game(outer, inner, looks, moves, True, tuple(called), tuple(covered))
        if advice.verdict == "adjust":
            bench = moved(bench, advice.slide_mm, advice.turn_deg, goal.hand, rng)
            steps = (*steps, Move(advice.slide_mm, advice.turn_deg, goal.hand))
            moves += 1
        else:
            steps = (*steps, Move(0.0, 0.0, goal.hand))
    return Game(outer, inner, MOST_LOOKS, moves, False, tuple(called), tuple(covered))


def play_by_hand(bench: Bench, work: Workpiece, goal: Goal, rng: np.random.Generator) -> Game:
    """Play a bench by the trade's rule of thumb (common practice).

    Square the cartridge at the outer point; look at the inner one. If it looks square, stop. If the front
    points out slide back, if in slide forward, by a guessed 2 mm that is halved whenever the direction
    flips; then square at the outer point again.
    """
    outer_radius, inner_radius = work.radii_mm
    step, last, moves, looks = 2.0, 0.0, 0, 0
    while looks < MOST_LOOKS:
        looks += 1
        seen = true_yaw_deg(bench, outer_radius) + goal.reading_sd_deg * rng.standard_normal()
        bench = moved(bench, 0.0, -seen, Hand(0.0, goal.hand.turn_sd_deg), rng)
        seen = true_yaw_deg(bench, inner_radius) + goal.reading_sd_deg * rng.standard_normal()
        if abs(seen) <= goal.tolerance_deg:
            break
        direction = math.copysign(1.0, seen)
        if direction == -last:
            step /= 2.0
        bench = moved(bench, direction * step, 0.0, goal.hand, rng)
        last, moves = direction, moves + 1
    outer, inner = (true_yaw_deg(bench, radius) for radius in work.radii_mm)
    return Game(outer, inner, looks, moves, looks < MOST_LOOKS)


def play_many(
    player: Player,
    aim: Alignment,
    goal: Goal,
    *,
    count: int,
    seed: int,
    headshell: Headshell | None = None,
    distance_sd_mm: float = 0.5,
) -> list[Game]:
    """Play benches that start within 5 mm and 4 degrees of the true optimum, evenly spread."""
    headshell = headshell or Headshell()
    work = Workpiece(aim, headshell, distance_sd_mm)
    games = []
    for bench_seed in np.random.SeedSequence(seed).spawn(count):
        rng = np.random.default_rng(bench_seed)
        bench = hidden_bench(
            aim,
            headshell,
            distance_error_mm=float(rng.normal(0.0, distance_sd_mm)),
            slide_mm=float(rng.uniform(-5.0, 5.0)),
            turn_deg=float(rng.uniform(-4.0, 4.0)),
        )
        games.append(player(bench, work, goal, rng))
    return games
