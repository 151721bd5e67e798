"""Short recordings with known truth for the listen pages, made once for a session."""

from __future__ import annotations

import time
from pathlib import Path

from bench_under_test import token_in

from groovewright.audio import Band, BandList, Channel, Kind, Law
from groovewright.simulate.recording import Flaws, record, write_recording
from groovewright.store import read_job
from groovewright.store.files import kept_files

RATE_HZ = 48_000
BANDS = BandList(
    (
        Band("left 1 kHz", Kind.TONE, 0.5, 4.0, Channel.LEFT, 1000.0, level_cm_per_s=5.0),
        Band("right 1 kHz", Kind.TONE, 4.5, 8.0, Channel.RIGHT, 1000.0, level_cm_per_s=5.0),
        Band("lateral 1 kHz", Kind.TONE, 8.5, 11.0, Channel.LATERAL, 1000.0, level_cm_per_s=5.0),
        Band("speed", Kind.TONE, 11.5, 21.0, Channel.LATERAL, 3150.0, level_cm_per_s=5.0, groove_radius_mm=120.0),
        Band("arm, sideways", Kind.SWEEP, 21.5, 31.5, Channel.LATERAL, sweep_start_hz=25.0, sweep_end_hz=4.0,
             level_cm_per_s=1.0, law=Law.CONSTANT_VELOCITY),
    ),
    name="short tones",
)  # fmt: skip
TWO_TONES = BandList(
    (
        Band("left 1 kHz", Kind.TONE, 0.3, 3.3, Channel.LEFT, 1000.0, level_cm_per_s=5.0),
        Band("right 1 kHz", Kind.TONE, 3.8, 6.8, Channel.RIGHT, 1000.0, level_cm_per_s=5.0),
    )
)
FLAWS = Flaws(
    azimuth_deg=-1.4,
    speed_error_percent=-0.15,
    eccentricity_mm=0.18,
    random_flutter_percent=0.01,
    lateral_resonance=(9.4, 4.5),
    groove_noise_cm_per_s=0.01,
    full_scale_cm_per_s=50.0,
)
SWAPPED = Flaws(leads_swapped=True, full_scale_cm_per_s=50.0)


def make_recording(path: Path, flaws: Flaws = FLAWS, bands: BandList = BANDS) -> Path:
    write_recording(path, record(bands, flaws, rate_hz=RATE_HZ, seed=7), rate_hz=RATE_HZ)
    return path


def hand_in(client, path: Path, called: str = "side-a.wav", *, job: int = 1, **fields: str):
    """Hand a recording in as a browser without JavaScript does; return its page's address."""
    token = token_in(client.get(f"/jobs/{job}/listen").text)
    answer = client.post(
        f"/jobs/{job}/upload/recording",
        data={"token": token, **fields},
        files={"file": (called, path.read_bytes())},
        follow_redirects=False,
    )
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def press(client, page: str, action: str, **fields: str):
    """Press a button of a recording's page; the page after it."""
    text = client.get(page).text
    return client.post(f"{page}/{action}", data={"token": token_in(text), **fields})


def until_heard(bench, page: str) -> str:
    """Wait until a recording is heard; return how that ended."""
    job, name = int(page.split("/")[2]), page.split("/")[4]
    uid = read_job(bench.store, job).uid
    for _ in range(600):
        work = bench.listenings.of((uid, name))
        assert work is not None, "it is not being heard"
        if not work.at_work:
            return work.stage
        time.sleep(0.05)
    raise AssertionError("it is never done")


def recordings(store, job: int = 1):
    return kept_files(store, read_job(store, job).uid, "recording")
