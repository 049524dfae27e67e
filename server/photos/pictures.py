"""Pictures made from originals: upright, smaller, without any metadata. All of them can be deleted and come back."""

import io
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from analysis.imaging.photo import read_photo
from server.photos.keeping import limits_of_kept
from server.records import Photo
from server.settings import Settings
from server.store import Store

# A few sizes only, so that nobody can fill the disk by asking for each size there is.
SIDES_PX = (320, 800, 1600, 2400, 4000)
QUALITY = 88


def thumb(settings: Settings, store: Store, photo: Photo) -> bytes:
    """Return a JPEG of at most 320 px a side."""
    return view(settings, store, photo, SIDES_PX[0])


def view(settings: Settings, store: Store, photo: Photo, side_px: int) -> bytes:
    """Return an upright JPEG, its longer side the next size of `SIDES_PX` or the photo's own where that is less."""
    side = nearest_side(side_px)
    return derived(settings, f"{photo.sha256}-{side}.jpg", lambda: _draw(settings, store, photo, side))


def nearest_side(side_px: int) -> int:
    """Return the smallest size on offer that is at least `side_px`, or the largest."""
    return next((side for side in SIDES_PX if side >= side_px), SIDES_PX[-1])


def _draw(settings: Settings, store: Store, photo: Photo, side: int) -> bytes:
    return jpeg(read_photo(store.read(photo.sha256), limits_of_kept(settings, photo), max_side_px=side).srgb)


def jpeg(srgb: NDArray[np.uint8]) -> bytes:
    """Return a JPEG of an (rows, cols, 3) array; made from bare pixels, so no EXIF can be in it."""
    file = io.BytesIO()
    Image.fromarray(srgb).save(file, "JPEG", quality=QUALITY, optimize=True)
    return file.getvalue()


def derived(settings: Settings, name: str, make: Callable[[], bytes]) -> bytes:
    """Return the derived file `name`, making and keeping it when it isn't there."""
    place = settings.derived_folder / name[:2] / name
    try:
        return place.read_bytes()
    except FileNotFoundError:
        data = make()
        _keep(place, data)
        return data


def _keep(place: Path, data: bytes) -> None:
    # Written aside and renamed, so that a reader never meets half a picture. Not synced: it can be made again.
    place.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=".making-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.replace(temporary, place)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
