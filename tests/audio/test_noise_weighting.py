import numpy as np
import pytest

from groovewright.audio.noise_weighting import (
    a_weighting_db,
    itu_weighting_db,
    rumble_plain_db,
    rumble_weighted_db,
)

# IEC 61672-1, table of the A-weighting (16 kHz from memory).
A_TABLE = {
    31.5: -39.4,
    63: -26.2,
    125: -16.1,
    250: -8.6,
    500: -3.2,
    1000: 0.0,
    2000: 1.2,
    4000: 1.0,
    8000: -1.1,
    16000: -6.6,
}
# ITU-R BS.468-4, table 1, with its tolerances (both from memory).
ITU_TABLE = {
    31.5: (-29.9, 2.0), 63: (-23.9, 1.4), 100: (-19.8, 1.0), 200: (-13.8, 0.85), 400: (-7.8, 0.7),
    800: (-1.9, 0.55),
    1000: (0.0, 0.5), 2000: (5.6, 0.5), 3150: (9.0, 0.5), 4000: (10.5, 0.5), 5000: (11.7, 0.5),
    6300: (12.2, 0.01),
    7100: (12.0, 0.2), 8000: (11.4, 0.4), 9000: (10.1, 0.6), 10000: (8.1, 0.8), 12500: (0.0, 1.2),
    14000: (-5.3, 1.4),
    16000: (-11.7, 1.6), 20000: (-22.2, 2.0),
}  # fmt: skip


@pytest.mark.parametrize(("hz", "level_db"), A_TABLE.items())
def test_a_weighting_has_its_tabulated_levels(hz, level_db):
    # the table stands for exact base-ten frequencies (31.623 Hz, 15.849 kHz) and is rounded to 0.1 dB
    exact = 1000.0 * 10.0 ** (round(10.0 * np.log10(hz / 1000.0)) / 10.0)
    assert a_weighting_db(exact) == pytest.approx(level_db, abs=0.06)


@pytest.mark.parametrize(("hz", "entry"), ITU_TABLE.items())
def test_itu_weighting_is_within_the_tolerances_of_its_table(hz, entry):
    level_db, tolerance_db = entry
    assert itu_weighting_db(hz) == pytest.approx(level_db, abs=max(0.1, 0.4 * tolerance_db))


def test_rumble_curves_have_their_corners_and_slopes():
    """10 Hz and 315 Hz at -3 dB; weighted: 0 dB at 315 Hz, 12 dB an octave to both sides (IEC 60098, from
    memory).
    """
    assert rumble_plain_db(10.0) == pytest.approx(-3.0, abs=0.05)
    assert rumble_plain_db(315.0) == pytest.approx(-3.0, abs=0.05)
    assert rumble_weighted_db(315.0) == pytest.approx(0.0, abs=0.01)
    assert rumble_weighted_db(19.7) - rumble_weighted_db(9.85) == pytest.approx(12.04, abs=0.1)
    assert rumble_weighted_db(10_000.0) - rumble_weighted_db(5_000.0) == pytest.approx(-12.04, abs=0.1)
