"""Photos come in upright or are refused by name."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from analysis.imaging.photo import PhotoLimits, PhotoRefused, check_photo, linear_light, read_photo

RED, GREEN, BLUE, WHITE = (220, 30, 30), (30, 200, 30), (30, 30, 220), (240, 240, 240)


def corners(width: int = 96, height: int = 64) -> np.ndarray:
    """A picture with another colour in each corner: red, green / blue, white."""
    picture = np.zeros((height, width, 3), np.uint8)
    picture[: height // 2, : width // 2] = RED
    picture[: height // 2, width // 2 :] = GREEN
    picture[height // 2 :, : width // 2] = BLUE
    picture[height // 2 :, width // 2 :] = WHITE
    return picture


def encoded(picture: np.ndarray | Image.Image, kind: str, **options: object) -> bytes:
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def tagged(picture: np.ndarray, kind: str, orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return encoded(picture, kind, exif=exif, **({"quality": 95, "subsampling": 0} if kind == "JPEG" else {}))


# CIPA DC-008 (Exif), tag 0x0112, in its own words: which visual side the stored row 0 and column 0 are.
STORED_SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def as_stored(upright: np.ndarray, orientation: int) -> np.ndarray:
    """Lay out an upright picture pixel by pixel as the standard's words for this orientation say."""
    row_side, column_side = STORED_SIDES[orientation]
    height, width = upright.shape[:2]
    rows, cols = (height, width) if row_side in ("top", "bottom") else (width, height)
    stored = np.empty((rows, cols, 3), np.uint8)
    for r in range(rows):
        for c in range(cols):
            place = {
                "top": (r, None),
                "bottom": (height - 1 - r, None),
                "left": (None, r),
                "right": (None, width - 1 - r),
            }
            y, x = place[row_side]
            place = {
                "top": (c, None),
                "bottom": (height - 1 - c, None),
                "left": (None, c),
                "right": (None, width - 1 - c),
            }
            y2, x2 = place[column_side]
            stored[r, c] = upright[y if y is not None else y2, x if x is not None else x2]
    return stored


class TestOrientation:
    @pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_every_value_comes_upright(self, kind: str, orientation: int) -> None:
        """Each of the standard's eight values gives back the upright picture and its size (CIPA DC-008, tag 0x0112)."""
        upright = corners()
        photo = read_photo(tagged(as_stored(upright, orientation), kind, orientation))
        assert (photo.facts.width_px, photo.facts.height_px, photo.facts.orientation) == (96, 64, orientation)
        assert photo.srgb.shape == upright.shape
        inner = (slice(16, 48, 31), slice(24, 72, 47))  # one place in each quarter, clear of what compression smears
        assert np.abs(photo.srgb[inner].astype(int) - upright[inner]).max() < 25

    @pytest.mark.parametrize("orientation", [0, 9, 255])
    def test_an_invalid_value_counts_as_upright(self, orientation: int) -> None:
        """A value that the standard doesn't know leaves the picture as it is stored."""
        photo = read_photo(tagged(corners(), "JPEG", orientation))
        assert photo.facts.orientation == 1
        assert photo.srgb.shape == (64, 96, 3)

    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_a_reduced_photo_is_upright_too(self, orientation: int) -> None:
        """Decoding at reduced size and turning upright don't get in each other's way."""
        upright = corners(960, 640)
        photo = read_photo(tagged(as_stored(upright[::10, ::10], orientation), "JPEG", orientation), max_side_px=48)
        assert photo.srgb.shape == (32, 48, 3)
        assert photo.px_per_pixel == 2.0
        assert np.abs(photo.srgb[4, 4].astype(int) - RED).max() < 40
        assert np.abs(photo.srgb[-4, 4].astype(int) - BLUE).max() < 40


class TestKinds:
    @pytest.mark.parametrize(
        ("kind", "name", "media_type"),
        [
            ("JPEG", "JPEG", "image/jpeg"),
            ("PNG", "PNG", "image/png"),
            ("WEBP", "WebP", "image/webp"),
            ("TIFF", "TIFF", "image/tiff"),
        ],
    )
    def test_facts_name_the_kind(self, kind: str, name: str, media_type: str) -> None:
        """The facts tell the kind by content, with upright size and bits."""
        facts = check_photo(encoded(corners(), kind))
        assert (facts.format, facts.media_type) == (name, media_type)
        assert (facts.width_px, facts.height_px, facts.bits) == (96, 64, 8)

    @pytest.mark.parametrize("channels", [1, 3])
    def test_sixteen_bits_keep_their_brightness(self, channels: int) -> None:
        """A 16-bit TIFF is cut to 8 bits without stretching: 257 codes of 16 bits are one of 8 (65535 = 255 · 257)."""
        ramp = np.linspace(0, 65535, 64 * 64).reshape(64, 64).astype(np.uint16)
        picture = ramp if channels == 1 else np.stack([ramp] * 3, axis=-1)
        file = io.BytesIO()
        tifffile.imwrite(file, picture, photometric="minisblack" if channels == 1 else "rgb")
        photo = read_photo(file.getvalue())
        assert photo.facts.bits == 16
        assert np.abs(photo.srgb[..., 0] - ramp / 257.0).max() <= 1.0

    def test_a_sixteen_bit_png_is_read(self) -> None:
        """16-bit grey PNGs are cut to 8 bits as well."""
        ramp = np.linspace(0, 65535, 64 * 64).reshape(64, 64).astype(np.uint16)
        photo = read_photo(encoded(Image.fromarray(ramp), "PNG"))
        assert np.abs(photo.srgb[..., 1] - ramp / 257.0).max() <= 1.0

    def test_see_through_places_lie_on_white(self) -> None:
        """A transparent pixel shows white, not whatever colour hides under it."""
        picture = np.zeros((8, 8, 4), np.uint8)
        picture[:4] = (200, 10, 10, 255)
        srgb = read_photo(encoded(picture, "PNG")).srgb
        assert tuple(srgb[0, 0]) == (200, 10, 10)
        assert tuple(srgb[7, 7]) == (255, 255, 255)

    def test_palettes_grey_and_print_colours_become_rgb(self) -> None:
        """Palette, grey, bilevel and CMYK pictures come as three channels."""
        image = Image.fromarray(corners())
        for mode, kind in (("P", "PNG"), ("L", "JPEG"), ("1", "PNG"), ("CMYK", "JPEG"), ("LA", "PNG")):
            assert read_photo(encoded(image.convert(mode), kind)).srgb.shape == (64, 96, 3)

    def test_reading_from_a_path_equals_reading_bytes(self, tmp_path: Path) -> None:
        """A file and its bytes give the same picture."""
        data = encoded(corners(), "PNG")
        (tmp_path / "face.png").write_bytes(data)
        assert np.array_equal(read_photo(tmp_path / "face.png").srgb, read_photo(data).srgb)


def bomb(width: int, height: int) -> bytes:
    """A small PNG that says it is huge."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 999)) + chunk(b"IEND", b"")
    )


class TestRefusals:
    @pytest.mark.parametrize(
        ("data", "words"),
        [
            (b"", "0 bytes"),
            (b"Dear all, here is the part that broke.", "text"),
            (b"<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg'/>", "SVG"),
            (b"\xef\xbb\xbf  <svg/>", "SVG"),
            (b"%PDF-1.7\n%\xe2\xe3", "PDF"),
            (b"PK\x03\x04" + bytes(30), "ZIP"),
            (bytes(range(256)), "not a photo"),
            (bytes(4) + b"ftypavif" + bytes(20), "AVIF"),
        ],
    )
    def test_other_files_are_named(self, data: bytes, words: str) -> None:
        """What is no photo is refused by its name."""
        with pytest.raises(PhotoRefused, match=words):
            check_photo(data)

    @pytest.mark.parametrize("kind", ["GIF", "BMP"])
    def test_other_pictures_are_named(self, kind: str) -> None:
        """Kinds of picture that aren't taken in are refused by name, with what to save them as."""
        with pytest.raises(PhotoRefused, match=f"{kind}.*Save it as JPEG"):
            check_photo(encoded(corners(), kind))

    @pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
    @pytest.mark.parametrize("share", [0.2, 0.6, 0.95])
    def test_a_cut_file_is_refused(self, kind: str, share: float) -> None:
        """A photo whose end is missing is refused, however much of it is there."""
        noise = np.random.default_rng(5).integers(0, 255, (200, 300, 3), dtype=np.uint8)
        data = encoded(noise, kind, **({"compression": "tiff_lzw"} if kind == "TIFF" else {}))
        with pytest.raises(PhotoRefused):
            check_photo(data[: int(len(data) * share)])

    def test_too_many_pixels_are_refused_before_decoding(self) -> None:
        """A picture that claims more pixels than allowed is refused by number, whatever its bytes hold."""
        with pytest.raises(PhotoRefused, match=r"12000 × 11000 px.*120 million"):
            check_photo(bomb(12000, 11000))

    def test_a_monstrous_size_is_refused(self) -> None:
        """A size at which the decoder itself gives up is refused in the same words."""
        with pytest.raises(PhotoRefused, match="larger than 120 million"):
            check_photo(bomb(60000, 60000))

    def test_too_many_bytes_are_refused(self) -> None:
        """A file over the byte limit is refused unread."""
        with pytest.raises(PhotoRefused, match="larger than 60 MB"):
            check_photo(bytes(60_000_001))

    def test_limits_can_be_set(self) -> None:
        """Both limits are the caller's to set, and what lies on the limit passes."""
        data = encoded(corners(), "PNG")
        assert check_photo(data, PhotoLimits(len(data), 96 * 64)).width_px == 96
        with pytest.raises(PhotoRefused):
            check_photo(data, PhotoLimits(len(data) - 1, 96 * 64))
        with pytest.raises(PhotoRefused):
            check_photo(data, PhotoLimits(len(data), 96 * 64 - 1))

    def test_a_missing_path_is_refused(self, tmp_path: Path) -> None:
        """A path that can't be read is refused by the file's name alone, which doesn't tell where the desk keeps it."""
        with pytest.raises(PhotoRefused, match=r"^The photo gone\.jpg can't be read"):
            read_photo(tmp_path / "gone.jpg")

    @given(
        st.binary(min_size=1, max_size=300),
        st.sampled_from([b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"II*\0", b"RIFF"]),
    )
    def test_garbage_never_escapes_as_another_error(self, body: bytes, head: bytes) -> None:
        """Whatever follows a photo's first bytes, the only failure is a refusal."""
        with pytest.raises(PhotoRefused):
            check_photo(head + body)

    @given(st.integers(0, 4000), st.integers(0, 255))
    def test_a_flipped_byte_is_read_or_refused(self, place: int, value: int) -> None:
        """One wrong byte anywhere gives a picture or a refusal, nothing else."""
        data = bytearray(tagged(corners(), "JPEG", 6))
        data[place % len(data)] = value
        try:
            assert read_photo(bytes(data)).srgb.ndim == 3
        except PhotoRefused as refusal:
            assert str(refusal).endswith(".")  # noqa: PT017  either outcome is right


class TestReducing:
    @given(st.integers(40, 700), st.integers(40, 700), st.integers(8, 800))
    def test_the_longer_side_stays_within_the_wish(self, width: int, height: int, side: int) -> None:
        """The array never exceeds the wished side, never grows, and says how many px one of its pixels is."""
        data = encoded(Image.new("RGB", (width, height), RED), "JPEG")
        photo = read_photo(data, max_side_px=side)
        rows, cols = photo.srgb.shape[:2]
        assert max(rows, cols) == min(side, max(width, height))
        assert photo.px_per_pixel >= 1.0
        assert photo.px_per_pixel * max(rows, cols) == pytest.approx(max(width, height))
        assert (photo.facts.width_px, photo.facts.height_px) == (width, height)


class TestLinearLight:
    def test_it_meets_the_standards_curve(self) -> None:
        """Code 0 is black, 255 white, and 188 half the light (IEC 61966-2-1: 188/255 -> 0.5029)."""
        light = linear_light(np.array([[[0, 255, 188]]], np.uint8))
        assert light.dtype == np.float32
        np.testing.assert_allclose(light[0, 0], [0.0, 1.0, 0.5029], rtol=0, atol=1e-4)
        # 10/255 lies on the straight piece: 10 / 255 / 12.92
        np.testing.assert_allclose(linear_light(np.uint8([[[10, 10, 10]]])), 10 / 255 / 12.92, rtol=1e-6)
