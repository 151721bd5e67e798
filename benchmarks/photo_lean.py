"""How well azimuth and rake are read from rendered photographs with a reflection; the table in docs/vision.md.

Run: .venv/bin/python benchmarks/photo_lean.py [PHOTOS PER ROW]
"""

from __future__ import annotations

import sys

import numpy as np

from groovewright.quantities import BenchError
from groovewright.simulate.photo_mirror import azimuth_scene, rake_scene
from groovewright.vision import MarkedLine, Photo, read_lean

SEED = 20261125
MARK_SD_PX = 1.5
DOWN_SD_DEG = 3.0
"""How far off the angle is that a person states for looking down."""


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print("| photos | taken | read | 68 % deg | 95 % deg | worst | median sd | covered |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for name, make in (("azimuth", azimuth_scene), ("rake", rake_scene)):
        errors, sds = [], []
        for seed in np.random.SeedSequence(SEED).spawn(count):
            random = np.random.default_rng(seed)
            scene = make(random)
            ends = [marked + random.normal(0.0, MARK_SD_PX, (2, 2)) for marked in scene.marked()]
            lines = [MarkedLine((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))) for a, b in ends]
            down = max(0.0, scene.looking_down_deg + float(random.normal(0.0, DOWN_SD_DEG)))
            try:
                reading = read_lean(Photo(scene.taken()), lines[0], lines[1], down)
            except BenchError:
                continue
            errors.append(reading.lean.value - scene.lean_deg)
            sds.append(reading.lean.sd)
        error, sd = np.abs(errors), np.array(sds)
        p68, p95 = np.quantile(error, [0.68, 0.95])
        print(
            f"| {name} | {count} | {len(error) / count:.0%} | {p68:.3f} | {p95:.3f} | {error.max():.3f} | "
            f"{np.median(sd):.3f} | {np.mean(error <= 1.959964 * sd):.1%} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
