"""Bodies that show in one colour of the light: unpacked only where asked for, and read where gray doesn't show them."""

import io

import numpy as np
import pytest
from PIL import Image

from groovewright.quantities import CannotBeDoneError
from groovewright.simulate.photo_scenes import Cartridge
from groovewright.vision import Photo, body, read_photo
from groovewright.vision.colour import telling_colour
from groovewright.vision.grid_print import ladder_of, see_print
from groovewright.vision.load import decode_photo, in_colours
from groovewright.vision.marks import find_codes
from groovewright.vision.sheet_view import see_grids

ABOVE = {"distance_mm": 230.0, "front_deg": 4.0}
YELLOW = (0.80, 0.72, 0.08)
"""What red, green and blue light a body sends back: in gray nearly as bright as the paper in its shade."""


@pytest.fixture(scope="module")
def yellow(take):
    """The same scene in three lights, as a phone's JPEG with colour at half the resolution; the yaw is 1.4 degrees."""
    parts = [
        take(cartridge=Cartridge(yaw_deg=1.4, ahead_mm=4.0, shade=shade, shell_shade=shade), **ABOVE)
        for shade in YELLOW
    ]
    out = io.BytesIO()
    Image.fromarray(np.dstack(parts)).save(out, "JPEG", quality=92, subsampling="4:2:0")
    return out.getvalue()


def placed(photo):
    view = next(view for view in see_grids(photo, find_codes(photo.gray)) if view.null == "outer")
    return view.pose, see_print(photo, view.pose, ladder_of(view.places))


def test_colours_are_those_of_the_file_the_right_way_up(yellow):
    turned = Image.open(io.BytesIO(yellow))
    exif = Image.Exif()
    exif[0x0112] = 6
    out = io.BytesIO()
    turned.save(out, "PNG", exif=exif)
    photo = decode_photo(out.getvalue())
    colours = in_colours(photo)
    assert [part.size for part in colours] == [photo.size] * 3
    upright = np.rot90(np.asarray(turned), 3)
    for k, part in enumerate(colours):
        np.testing.assert_array_equal(part.gray, upright[..., k])


def test_a_gray_file_and_a_picture_without_a_file_have_no_colours(take):
    gray = take(cartridge=None, **ABOVE)
    out = io.BytesIO()
    Image.fromarray(gray).save(out, "JPEG")
    assert in_colours(decode_photo(out.getvalue())) is None
    assert in_colours(Photo(gray)) is None


def test_a_yellow_body_is_darkest_in_blue(yellow):
    photo = decode_photo(yellow)
    pose, _ = placed(photo)
    chosen = telling_colour(photo, pose)
    np.testing.assert_array_equal(chosen.gray, in_colours(photo)[2].gray)


def test_a_yellow_body_in_a_yellow_headshell_is_read(yellow):
    photo = decode_photo(yellow)
    pose, shown = placed(photo)
    both, why = body.see_body_in_colour(photo, pose, shown)
    assert both is not None, why
    assert abs(both.fit.yaw_deg - 1.4) < 2.5 * both.fit.sd_deg
    assert both.fit.yaw_deg == pytest.approx(1.4, abs=0.25)


def test_what_gray_doesn_t_show_is_read_in_blue_with_a_wider_interval(yellow, monkeypatch):
    photo = decode_photo(yellow)
    pose, shown = placed(photo)
    see, answers = body.see_body, []

    def blind_in_gray(taken, *others):
        answers.append(see(taken, *others))
        return answers[-1] if taken is not photo else (None, "not in gray")

    monkeypatch.setattr(body, "see_body", blind_in_gray)
    view, why = body.see_body_in_colour(photo, pose, shown)
    assert why == ""
    assert abs(view.fit.yaw_deg - 1.4) < 2.0 * view.fit.sd_deg
    assert view.fit.sd_deg > 1.5 * answers[1][0].fit.sd_deg


def test_where_gray_and_colour_disagree_nothing_is_given(yellow, monkeypatch):
    photo = decode_photo(yellow)
    pose, shown = placed(photo)
    right, _ = body.see_body(telling_colour(photo, pose), pose, shown)
    values = right.fit.values + np.array([3.0, 0.0, 0.0, 0.0])
    wrong = body.BodyView(
        body.BoxFit(values, 4.0 * right.fit.covariance, right.fit.belief), right.edges, right.worth
    )
    answers = iter([wrong, right])
    monkeypatch.setattr(body, "see_body", lambda *_: (next(answers), ""))
    view, why = body.see_body_in_colour(photo, pose, shown)
    assert view is None
    assert "differ by 3.0 degrees" in why


def test_a_photo_with_a_flag_never_has_its_colours_unpacked(flagged, monkeypatch):
    out = io.BytesIO()
    Image.fromarray(np.dstack([flagged] * 3)).save(out, "JPEG", quality=92)

    def never(*_):
        raise AssertionError

    monkeypatch.setattr("groovewright.vision.colour.in_colours", never)
    assert read_photo(decode_photo(out.getvalue())).method == "flag"


def test_a_bare_sheet_in_colour_has_no_body(take):
    out = io.BytesIO()
    bare = take(cartridge=None, **ABOVE).astype(float)
    tinted = np.dstack([bare, 0.98 * bare, 0.9 * bare])
    Image.fromarray(np.rint(tinted).astype(np.uint8)).save(out, "JPEG", quality=92)
    with pytest.raises(CannotBeDoneError, match="edges can't be told"):
        read_photo(decode_photo(out.getvalue()))
