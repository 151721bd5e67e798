"""A photograph without what its file tells of place, time and owner."""

from __future__ import annotations

from io import BytesIO

from groovewright.vision.load import EXIF_FOLDER, FOCAL_35MM_TAG, camera_facts, opened_image

QUALITY = 95
"""Of the JPEG that is kept: what it changes is far below the noise of a phone's camera."""


def without_metadata(content: bytes, name: str = "photo") -> bytes:
    """Return a photograph as a JPEG, upright, with no metadata but the focal length on 35 mm film.

    Raises
    ------
    InputError
        It isn't a photograph that can be read; see `decode_photo`.
    """
    from PIL import Image, ImageOps

    with opened_image(content, name) as image:
        focal_35mm, _ = camera_facts(image)
        upright = ImageOps.exif_transpose(image)
        clean = upright.convert("L" if upright.mode in ("L", "1") else "RGB")
    exif = Image.Exif()
    if focal_35mm:
        exif.get_ifd(EXIF_FOLDER)[FOCAL_35MM_TAG] = round(focal_35mm)
    out = BytesIO()
    clean.save(out, "JPEG", quality=QUALITY, exif=exif)
    return out.getvalue()
