"""Bytes of a photo -> an upright picture, or a refusal that says what to do.

Camera files come from strangers. Whatever the decoders think of a damaged or hostile file, the caller meets one
exception, `PhotoRefused`, whose message can be shown as it is.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

MEDIA_TYPES = {
    "JPEG": "image/jpeg",
    "PNG": "image/png",
    "WebP": "image/webp",
    "TIFF": "image/tiff",
    "HEIC": "image/heic",
}
_OUR_NAME = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "WEBP": "WebP", "TIFF": "TIFF", "HEIF": "HEIC"}
_WANTED = "Save it as JPEG, PNG, WebP, TIFF or HEIC and try again."
_ORIENTATION_TAG = 0x0112
# CIPA DC-008 (Exif 2.32), tag 0x0112: where row 0 and column 0 of the stored picture lie when it is shown upright.
_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class PhotoRefused(ValueError):
    """These bytes can't be used as a photo; the message says what was wrong and what to do."""


@dataclass(frozen=True)
class PhotoLimits:
    """The largest file and the largest picture that are taken in."""

    max_bytes: int = 60_000_000
    max_pixels: int = 120_000_000


@dataclass(frozen=True)
class PhotoFacts:
    """What a photo file says of itself; `width_px` and `height_px` are those of the upright picture.

    `orientation` is the EXIF value 1 to 8 (1 where it is absent or invalid), `bits` the bits per channel in the file.
    """

    format: str
    media_type: str
    width_px: int
    height_px: int
    orientation: int
    bits: int


@dataclass(frozen=True)
class Photo:
    """An upright picture: `srgb` uint8 (rows, cols, 3); `px_per_pixel` original px per array pixel, 1 or more."""

    srgb: NDArray[np.uint8]
    facts: PhotoFacts
    px_per_pixel: float


def check_photo(data: bytes, limits: PhotoLimits = PhotoLimits()) -> PhotoFacts:
    """Say what kind of photo these bytes hold, after decoding all of it.

    Parameters
    ----------
    data : bytes
        The file as it came.
    limits : PhotoLimits
        Files with more bytes, and pictures with more pixels, are refused before they are decoded.

    Returns
    -------
    PhotoFacts
        Sizes in px of the upright picture.

    Raises
    ------
    PhotoRefused
        Empty, too large, of another kind, truncated or damaged.
    """
    # A JPEG is checked at an eighth of its size: every coded block is still read, at a fifth of the time.
    return _decode(data, limits, max_side_px=64)[1]


def read_photo(
    source: bytes | Path,
    limits: PhotoLimits = PhotoLimits(),
    max_side_px: int | None = None,
) -> Photo:
    """Decode a photo upright, as 8-bit sRGB.

    Parameters
    ----------
    source : bytes or Path
        The file's bytes, or where it lies.
    limits : PhotoLimits
        See `check_photo`.
    max_side_px : int, optional
        When given, the longer side of the array is at most this long; the picture is averaged down, never up.

    Returns
    -------
    Photo
        Transparent places are laid on white. 16-bit channels are cut to 8 bits without stretching. Colour profiles are
        not applied.

    Raises
    ------
    PhotoRefused
        As `check_photo`; also when the path can't be read.
    """
    if isinstance(source, Path):
        source = _read_bytes(source, limits)
    if max_side_px is not None and max_side_px < 1:
        raise ValueError(f"max_side_px must be at least 1, not {max_side_px}")
    image, facts = _decode(source, limits, max_side_px)
    try:
        srgb = _as_srgb(image)
        if max_side_px is not None and max(srgb.size) > max_side_px:
            factor = max_side_px / max(srgb.size)
            size = (max(1, round(srgb.width * factor)), max(1, round(srgb.height * factor)))
            srgb = srgb.resize(size, Image.Resampling.BOX)
    except PhotoRefused:
        raise
    except Exception as error:
        raise PhotoRefused(f"The photo's colours can't be read ({_brief(error)}). {_WANTED}") from error
    array = np.asarray(srgb)
    # by the longer side, whose rounding to whole pixels matters least
    return Photo(array, facts, max(facts.width_px, facts.height_px) / max(array.shape[:2]))


def linear_light(srgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Undo the sRGB curve (IEC 61966-2-1): uint8 (..., 3) -> float32 of the same shape, 0 black to 1 white."""
    values: NDArray[np.float32] = _linear_table()[srgb]
    return values


@cache
def _linear_table() -> NDArray[np.float32]:
    code = np.arange(256) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _read_bytes(path: Path, limits: PhotoLimits) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(limits.max_bytes + 1)
    except OSError as error:
        raise PhotoRefused(f"The photo {path.name} can't be read: {error.strerror or error}.") from error


def _decode(data: bytes, limits: PhotoLimits, max_side_px: int | None) -> tuple[Image.Image, PhotoFacts]:
    """Open, measure, decode and turn upright. The one place that lets decoders loose on foreign bytes."""
    if not data:
        raise PhotoRefused("The file is empty (0 bytes). Copy it from the camera again.")
    if len(data) > limits.max_bytes:
        raise PhotoRefused(
            f"The file is larger than {limits.max_bytes / 1e6:.0f} MB. "
            "Save the photo smaller, or as JPEG, and try again."
        )
    _refuse_other_kinds(data)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # odd metadata makes decoders warn; the picture itself is what counts
        try:
            return _decode_unguarded(data, limits, max_side_px)
        except PhotoRefused:
            raise
        except Image.DecompressionBombError as error:
            raise PhotoRefused(_too_many_pixels(limits)) from error
        except UnidentifiedImageError as error:
            raise PhotoRefused(f"The file is not a photo of a kind that can be read. {_WANTED}") from error
        except Exception as error:  # on damaged files: OSError, SyntaxError, struct.error, ...
            raise PhotoRefused(
                f"The photo is damaged or cut short ({_brief(error)}). Copy it from the camera again."
            ) from error


def _decode_unguarded(data: bytes, limits: PhotoLimits, max_side_px: int | None) -> tuple[Image.Image, PhotoFacts]:
    _know_heic()
    image: Image.Image = Image.open(io.BytesIO(data), formats=["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
    name = _OUR_NAME[image.format or ""]
    width, height = image.size
    if width * height > limits.max_pixels:
        raise PhotoRefused(_too_many_pixels(limits, width, height))
    bits = _bits(image)
    orientation = _orientation(image)
    if max_side_px is not None and name == "JPEG":
        image.draft(None, _drafted(width, height, max_side_px))
    image.load()
    # Pillow turns a TIFF while loading and may meet a PNG's tag only then, so what remains is asked afterwards.
    remaining = _orientation(image)
    orientation = orientation if orientation != 1 else remaining
    if name == "TIFF":
        width, height = image.size
    if remaining in _UPRIGHT:
        image = image.transpose(_UPRIGHT[remaining])
        if remaining >= 5:
            width, height = height, width
    return image, PhotoFacts(name, MEDIA_TYPES[name], width, height, orientation, bits)


def _drafted(width: int, height: int, max_side_px: int) -> tuple[int, int]:
    factor = min(1.0, max_side_px / max(width, height))
    return max(1, int(width * factor)), max(1, int(height * factor))


def _too_many_pixels(limits: PhotoLimits, width: int = 0, height: int = 0) -> str:
    size = f"{width} × {height} px is" if width else "The picture is"
    return f"{size} larger than {limits.max_pixels / 1e6:.0f} million pixels. Save the photo smaller and try again."


def _brief(error: Exception) -> str:
    text = str(error).splitlines()[0] if str(error) else type(error).__name__
    return text[:80]


@cache
def _know_heic() -> None:
    import pi_heif  # only here: loading libheif takes a while and most photos are JPEG

    pi_heif.register_heif_opener()


def _orientation(image: Image.Image) -> int:
    """The EXIF orientation 1 to 8; 1 where it is absent, 0, or anything else the standard doesn't know."""
    try:
        value = image.getexif().get(_ORIENTATION_TAG)
    except Exception:  # a broken EXIF block must not cost the person the photo
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _bits(image: Image.Image) -> int:
    if image.mode.startswith(("I", "F")):
        return 16 if image.mode.startswith("I;16") else 32
    tags = getattr(image, "tag_v2", None)
    value = tags.get(258) if tags is not None else None  # TIFF tag BitsPerSample
    if isinstance(value, tuple) and value:
        value = value[0]
    return value if isinstance(value, int) and value > 0 else 8


def _as_srgb(image: Image.Image) -> Image.Image:
    if image.mode == "RGB":
        return image
    if image.mode.startswith("I;16"):
        wide = np.asarray(image).astype(np.float32)
        return Image.fromarray(np.round(wide / 257.0).astype(np.uint8)).convert("RGB")
    if image.mode in ("I", "F", "LAB", "HSV"):
        raise PhotoRefused(
            f"The photo stores its colours in a way that cameras don't ({image.mode}). "
            "Save it as 8- or 16-bit RGB or grey."
        )
    if "A" in image.mode or "a" in image.mode or "transparency" in image.info:
        rgba = image.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, "white")
        return Image.alpha_composite(ground, rgba).convert("RGB")
    return image.convert("RGB")


def _refuse_other_kinds(data: bytes) -> None:
    """Name the kinds of file that people take for photos; what this can't name is left to the decoders."""
    head = data[:1024]
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if head.startswith((b"GIF87a", b"GIF89a")):
        raise PhotoRefused(f"This is a GIF, which keeps too few colours to measure on. {_WANTED}")
    if text.startswith(b"%pdf"):
        raise PhotoRefused(f"This is a PDF document, not a photo. Take the photo out of it. {_WANTED}")
    if text.startswith(b"<svg") or (text.startswith((b"<?xml", b"<!doctype", b"<!--")) and b"<svg" in text):
        raise PhotoRefused(f"This is an SVG drawing, not a photo. {_WANTED}")
    if head[4:12] in (b"ftypavif", b"ftypavis"):
        raise PhotoRefused(f"This is an AVIF picture, a kind that isn't read here. {_WANTED}")
    if head.startswith(b"BM"):
        raise PhotoRefused(f"This is a BMP picture, a kind that isn't read here. {_WANTED}")
    if head.startswith(b"PK\x03\x04"):
        raise PhotoRefused("This is a ZIP archive or an office document, not a photo. Unpack it and add the photos.")
    if _is_text(head):
        raise PhotoRefused(f"This is text, not a photo, whatever its name says. {_WANTED}")


def _is_text(head: bytes) -> bool:
    return all(byte in (9, 10, 12, 13) or byte >= 32 for byte in head) and not head.startswith(b"\xff\xd8")
