"""What the photo page is asked: which photos, which lines are marked on them, and what is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from groovewright.quantities import InputError, unknown_word
from groovewright.vision import MarkedLine

WHATS = {"square": ("yaw",), "level": ("lean", "rake")}
"""What is read from photos at a stage."""

KINDS = ("side", "front", "cantilever")
FRONTS = ("right", "left")
MOST_PHOTOS = 6
MOST_LINES = 12
LARGEST_PIXEL = 20_000.0


@dataclass(frozen=True)
class Asked:
    """One state of the photo page; it stands in its address.

    Parameters
    ----------
    photos : tuple of str
        Invented names of kept photos of one state.
    lines : tuple of (int, MarkedLine)
        On which of the photos, and the line. For lean and rake: an edge, then its reflection.
    front : str
        For the rake: to which side of the picture the front points.
    looking_down_deg : float
        For lean and rake.
    """

    what: str
    photos: tuple[str, ...] = ()
    lines: tuple[tuple[int, MarkedLine], ...] = ()
    front: str = "right"
    looking_down_deg: float = 10.0

    def lines_on(self, photo: int) -> tuple[MarkedLine, ...]:
        """Return the lines that are marked on one of the photos."""
        return tuple(line for at, line in self.lines if at == photo)

    def without_photo(self, photo: int) -> Asked:
        """Return the same without one photo and its lines."""
        photos = tuple(name for k, name in enumerate(self.photos) if k != photo)
        lines = tuple((at - (at > photo), line) for at, line in self.lines if at != photo)
        return replace(self, photos=photos, lines=lines)

    def with_line(self, photo: int, place: int, line: MarkedLine) -> Asked:
        """Return the same with a line of a photo put in, or in place of the one that stood there."""
        others = [(at, old) for at, old in self.lines if at != photo]
        own = list(self.lines_on(photo))
        own[place : place + 1] = [line]
        return replace(self, lines=(*others, *((photo, entry) for entry in own)))

    def without_line(self, photo: int, place: int) -> Asked:
        """Return the same without a line of a photo."""
        others = tuple((at, old) for at, old in self.lines if at != photo)
        own = tuple((photo, line) for k, line in enumerate(self.lines_on(photo)) if k != place)
        return replace(self, lines=(*others, *own))

    def query(self) -> dict[str, str]:
        """Return the fields that `asked_of` reads back."""
        fields = {
            "what": self.what,
            "photos": ",".join(self.photos),
            "lines": ";".join(map(_said, self.lines)),
        }
        if self.what == "rake":
            fields["front"] = self.front
        if self.what != "yaw":
            fields["down"] = f"{self.looking_down_deg:g}"
        return {name: value for name, value in fields.items() if value}


def asked_of(stage: str, fields: Mapping[str, str]) -> Asked:
    """Return what the fields of an address or a form ask.

    Raises
    ------
    InputError
        Something that is not there, or no number.
    """
    what = fields.get("what") or WHATS[stage][0]
    if what not in WHATS[stage]:
        raise unknown_word("reading from a photo", what[:40], WHATS[stage])
    photos = photo_names(fields)
    if len(photos) > MOST_PHOTOS:
        raise InputError(f"at most {MOST_PHOTOS} photos of one state are read together, not {len(photos)}")
    lines = tuple(_line(text, len(photos)) for text in fields.get("lines", "").split(";") if text)
    if len(lines) > MOST_LINES:
        raise InputError(f"at most {MOST_LINES} lines can be marked, not {len(lines)}")
    front = fields.get("front") or FRONTS[0]
    if front not in FRONTS:
        raise unknown_word("side", front[:40], FRONTS)
    return Asked(
        what, photos, lines, front, pixel(fields.get("down") or "10", "how far the camera looks down")
    )


def photo_names(fields: Mapping[str, str]) -> tuple[str, ...]:
    """Return the invented names of the photos that the fields name."""
    return tuple(name for name in fields.get("photos", "").split(",") if name)


def line_of(fields: Mapping[str, str]) -> MarkedLine:
    """Return the line of a form: its two ends in pixels of the photo, and what it lies on.

    Raises
    ------
    InputError
        An end is no number, or the kind is not known.
    """
    x1, y1, x2, y2 = (pixel(fields.get(name, ""), name) for name in ("x1", "y1", "x2", "y2"))
    return MarkedLine((x1, y1), (x2, y2), _kind(fields.get("kind", "")))


def pixel(text: str, name: str) -> float:
    """Return a number of a form.

    Raises
    ------
    InputError
        It is none.
    """
    try:
        value = float(text.strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        raise InputError(f"{name}: '{text[:40]}' is not a number of pixels, such as 1210.5") from None
    if not 0.0 <= value <= LARGEST_PIXEL:
        raise InputError(f"{name}: {value:g} is outside of any photo")
    return value


def _kind(word: str) -> str | None:
    if word and word not in KINDS:
        raise unknown_word("kind of line", word[:40], KINDS)
    return word or None


def _said(entry: tuple[int, MarkedLine]) -> str:
    at, line = entry
    ends = ",".join(f"{value:.1f}" for value in (*line.start, *line.end))
    return f"{at + 1}:{line.kind or ''}:{ends}"


def _line(text: str, photos: int) -> tuple[int, MarkedLine]:
    at, _, rest = text.partition(":")
    kind, _, ends = rest.partition(":")
    values = ends.split(",")
    if not at.isascii() or not at.isdigit() or not 1 <= int(at[:3]) <= photos or len(values) != 4:
        raise InputError(
            f"'{text[:60]}' is not a line such as 1:side:1210,880,1320,1190 on one of the photos"
        )
    return int(at) - 1, line_of({"kind": kind, **dict(zip(("x1", "y1", "x2", "y2"), values, strict=True))})
