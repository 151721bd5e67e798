import numpy as np
import pytest

from groovewright.audio.motions import Wires


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("reversed_coil", [False, True])
def test_motions_come_back_from_the_columns_of_a_leaning_cartridge(swapped, reversed_coil):
    """Coils at 45 and -45 degrees turned by -a, by trigonometry: then gains, a reversed coil, exchanged leads."""
    x, y = np.array([1.0, 0.0, 0.4]), np.array([0.0, 1.0, -0.7])
    lean, gain = np.radians(2.5), 1.12
    left, right = (x * np.cos(angle) + y * np.sin(angle) for angle in (np.pi / 4 - lean, -np.pi / 4 - lean))
    columns = np.stack([gain * left, -right if reversed_coil else right])
    wires = Wires(swapped, reversed_coil, gain, -np.tan(lean), np.tan(lean))
    lateral, vertical = wires.motions(columns[::-1] if swapped else columns)
    # to a common factor; without the correction one motion would show 4 % of the other
    scale = lateral[0]
    assert lateral / scale == pytest.approx(x, abs=1e-12)
    assert vertical / scale == pytest.approx(y, abs=1e-12)
