"""Pictures of what was found: one transparent layer a class, wall strips, and one flat picture for print."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from analysis.common.classes import OUTSIDE
from analysis.imaging.photo import read_photo
from server.measuring.course import strokes_of
from server.measuring.directions import Sign
from server.measuring.patterns import LOOKS, PERIOD_PX, ink, looks_of, paint
from server.photos.keeping import limits_of_kept
from server.photos.pictures import derived, jpeg, nearest_side
from server.records import Measurement, Photo
from server.settings import Settings
from server.store import Store

Array = NDArray[np.uint8]
LOOK = 6  # part of every name; a change of how things are drawn makes them anew
PRINT_SIDE_PX = 1500
PRINT_MARGIN = 0.07  # of the face's longer side, left around it in print: enough of the ground to see where it ends
# A strip is drawn for the width it is shown at, so that its patterns aren't squeezed: for a desk and for a phone.
STRIP_DEPTH_PX = 52
STRIP_WIDTHS_PX = {"wide": 2480, "narrow": 720}


def labels_on(store: Store, measurement: Measurement, photo: Photo, size_px: tuple[int, int]) -> Array:
    """Return the label map laid on a view of the whole photo of `size_px` (width, height), uint8 (rows, cols)."""
    return labels_in(store, measurement, (0, 0, photo.width_px, photo.height_px), size_px)


def labels_in(
    store: Store, measurement: Measurement, window_px: tuple[int, int, int, int], size_px: tuple[int, int]
) -> Array:
    """Return the label map laid on a view of the photo's `window_px` (left, top, right, bottom), uint8 (rows, cols).

    Each pixel of the view takes the label under its centre; places off the label map are outside the face.
    """
    labels = _read_png(store, measurement.labels_sha256)
    rows, cols = (
        (first + (np.arange(length) + 0.5) * (last - first) / length - origin) / measurement.px_per_pixel
        for length, first, last, origin in zip(
            size_px[::-1], window_px[1::-1], window_px[:1:-1], measurement.origin_px[::-1], strict=True
        )
    )
    row, col = np.floor(rows).astype(int), np.floor(cols).astype(int)
    there = ((row >= 0) & (row < labels.shape[0]))[:, None] & ((col >= 0) & (col < labels.shape[1]))[None, :]
    taken = labels[row.clip(0, labels.shape[0] - 1)][:, col.clip(0, labels.shape[1] - 1)]
    return np.where(there, taken, np.uint8(OUTSIDE))


def labels_at(store: Store, measurement: Measurement, places_px: NDArray[np.float64]) -> Array:
    """Return the label under each place, (n, 2) of (x, y) in px of the photo; off the label map is outside the face."""
    labels = _read_png(store, measurement.labels_sha256)
    at = (places_px + 0.5 - np.asarray(measurement.origin_px)) / measurement.px_per_pixel
    col, row = np.floor(at).astype(int).T
    there = (row >= 0) & (row < labels.shape[0]) & (col >= 0) & (col < labels.shape[1])
    taken = labels[row.clip(0, labels.shape[0] - 1), col.clip(0, labels.shape[1] - 1)]
    return np.where(there, taken, np.uint8(OUTSIDE))


def label_map(store: Store, labels_sha256: str) -> Array:
    """Return a measurement's label map as it was kept, uint8 (rows, cols)."""
    return _read_png(store, labels_sha256)


def _read_png(store: Store, sha256: str) -> Array:
    with Image.open(io.BytesIO(store.read(sha256))) as image:
        return np.asarray(image)


def layer(settings: Settings, store: Store, measurement: Measurement, photo: Photo, name: str, side_px: int) -> bytes:
    """Return the layer of class `name` as a transparent PNG that lies on the photo's view of the same size."""
    side = nearest_side(side_px)

    def draw() -> bytes:
        factor = min(1.0, side / max(photo.width_px, photo.height_px))
        size = (max(1, round(photo.width_px * factor)), max(1, round(photo.height_px * factor)))
        return _png(paint(labels_on(store, measurement, photo, size), name))

    return derived(settings, f"{_key(measurement, photo)}-{name}-{side}.png", draw)


def _key(measurement: Measurement, photo: Photo) -> str:
    # Named after contents and not after the record's numbers: another record in the same folder may use them too.
    place = "-".join(f"{value:.3f}" for value in (*measurement.origin_px, measurement.px_per_pixel))
    return f"{measurement.labels_sha256}-{photo.sha256[:16]}-{place}-{LOOK}"


def _png(array: Array) -> bytes:
    file = io.BytesIO()
    Image.fromarray(array).save(file, "PNG")
    return file.getvalue()


def strip(
    settings: Settings, store: Store, measurement: Measurement, number: int, *, classes: bool, width: str = "wide"
) -> bytes:
    """Return wall strip `number`, start at the left, the face's edge at the top; its photo or its classes.

    `width` is a key of `STRIP_WIDTHS_PX`. Raises `IndexError` where there is no such strip.
    """
    entry = measurement.strips[number]
    sha256 = entry["labels_sha256" if classes else "picture_sha256"]
    longest = max(one["length_mm"] for one in measurement.strips)
    columns = max(1, round(STRIP_WIDTHS_PX[width] * entry["length_mm"] / longest))

    def draw() -> bytes:
        array = _read_png(store, sha256)
        how = Image.Resampling.NEAREST if classes else Image.Resampling.BICUBIC
        resized = np.asarray(Image.fromarray(array).resize((columns, STRIP_DEPTH_PX), how))
        return _png(_all_classes(resized) if classes else resized)

    return derived(settings, f"{sha256}-strip-{columns}-{LOOK}.png", draw)


def _all_classes(labels: Array) -> Array:
    whole = np.zeros((*labels.shape, 4), np.uint8)
    for name in LOOKS:
        part = paint(labels, name, PERIOD_PX)
        whole[part[..., 3] > 0] = part[part[..., 3] > 0]
    return whole


def flat(settings: Settings, store: Store, measurement: Measurement, photo: Photo) -> bytes:
    """Return the photo with all that was found, its outline, a scale bar and a legend, as one JPEG without metadata."""
    marked = "rendered" if photo.is_rendered else "taken"
    course = measurement.result.get("course") or {}
    way = "-".join(f"{v:g}" for v in course.get("direction_deg", {}).get("interval", ())) or "none"
    key = f"{_key(measurement, photo)}-{measurement.given['um_per_px']:.6g}-{marked}-{way}.jpg"
    return derived(settings, key, lambda: jpeg(np.asarray(_flat(settings, store, measurement, photo))))


def _flat(settings: Settings, store: Store, measurement: Measurement, photo: Photo) -> Image.Image:
    window = face_window(measurement, photo)
    left, top, right, bottom = window
    shown_px = max(right - left, bottom - top) / PRINT_SIDE_PX  # one size for all, so that the foot reads alike
    whole_side = round(max(photo.width_px, photo.height_px) / max(1.0, shown_px))
    read = read_photo(store.read(photo.sha256), limits_of_kept(settings, photo), max_side_px=whole_side)
    size = (round((right - left) / shown_px), round((bottom - top) / shown_px))
    # Read at about the size wanted, so this cuts out the window and evens out the rounding of the reading.
    k = read.px_per_pixel
    picture = Image.fromarray(read.srgb).resize(
        size, Image.Resampling.BICUBIC, (left / k, top / k, right / k, bottom / k)
    )
    labels = labels_in(store, measurement, window, size)
    for name in looks_of(measurement.result.get("surface")):
        part = Image.fromarray(paint(labels, name))
        picture.paste(part, (0, 0), part)
    _outline(picture, measurement, (left, top), shown_px)
    _directions(picture, measurement, photo, (left, top), shown_px)
    return _with_foot(picture, measurement, photo, shown_px)


def face_window(measurement: Measurement, photo: Photo) -> tuple[int, int, int, int]:
    """Return the part of the photo that print shows: the face with a margin; all of it where there is no outline."""
    ring = measurement.result.get("outline_px") or []
    if not ring:
        return (0, 0, photo.width_px, photo.height_px)
    low, high = np.min(ring, axis=0), np.max(ring, axis=0)
    margin = PRINT_MARGIN * float(np.max(high - low))
    left, top = (max(0, int(value - margin)) for value in low)
    right, bottom = (
        min(whole, int(np.ceil(value + margin)) + 1)
        for value, whole in zip(high, (photo.width_px, photo.height_px), strict=True)
    )
    return (left, top, right, bottom)


def _outline(picture: Image.Image, measurement: Measurement, corner_px: tuple[int, int], shown_px: float) -> None:
    draw = ImageDraw.Draw(picture)
    for ring in (measurement.result.get("outline_px") or [], *(measurement.result.get("holes_px") or [])):
        if not ring:  # an outer surface has no outline of its own
            continue
        places = [
            ((x + 0.5 - corner_px[0]) / shown_px, (y + 0.5 - corner_px[1]) / shown_px) for x, y in [*ring, *ring[:1]]
        ]
        for width, colour in ((6, "white"), (2, "black")):
            draw.line(places, colour, width, joint="curve")


def _directions(
    picture: Image.Image, measurement: Measurement, photo: Photo, corner_px: tuple[int, int], shown_px: float
) -> None:
    draw = ImageDraw.Draw(picture)
    for one in strokes_of(measurement.result, photo):
        for lines, widths in ((one.doubt_px, (5, 2)), (one.lines_px, (9, 4))):
            for line in lines:
                places = [((x + 0.5 - corner_px[0]) / shown_px, (y + 0.5 - corner_px[1]) / shown_px) for x, y in line]
                for width, colour in zip(widths, ("white", "black"), strict=True):
                    draw.line(places, colour, width, joint="curve")


def _with_foot(picture: Image.Image, measurement: Measurement, photo: Photo, shown_px: float) -> Image.Image:
    """Add a white foot with scale bar and legend; letters grow with the picture, so that they print at one size."""
    size = max(12, picture.width // 52)
    font = ImageFont.load_default(size)
    line = round(size * 1.7)
    looks, directions = looks_of(measurement.result.get("surface")), strokes_of(measurement.result, photo)
    signs = [(name, look.words) for name, look in looks.items()] + [(one.sign, one.words) for one in directions]
    sheet = Image.new("RGB", (picture.width, picture.height + line * (2 + (len(signs) + 1) // 2)), "white")
    sheet.paste(picture, (0, 0))
    draw = ImageDraw.Draw(sheet)
    _scale_bar(draw, measurement, (size, picture.height + line // 2), shown_px, font, size)
    if photo.is_rendered:
        draw.text((picture.width - size, picture.height + line // 2), "rendered, invented", "black", font, "ra")
    for number, (name, words) in enumerate(signs):
        left = size + (number % 2) * picture.width // 2
        top = picture.height + round(line * (1.6 + number // 2))
        box = (size * 3, round(size * 1.3))
        if name in looks:
            _swatch(sheet, name, (left, top), box)
        else:
            _stroke(draw, directions[number - len(looks)].sign, (left, top), box)
        draw.text((left + round(size * 3.6), top), words, "black", font)
    return sheet


def _swatch(sheet: Image.Image, name: str, place: tuple[int, int], size: tuple[int, int]) -> None:
    look = LOOKS[name]
    array = np.full((size[1], size[0], 3), 255, np.uint8)
    tint = look.tint / 255
    array[:] = [round(255 * (1 - tint) + value * tint) for value in look.rgb]
    array[ink(look.pattern, (size[1], size[0]))] = look.rgb
    sheet.paste(Image.fromarray(array), place)
    ImageDraw.Draw(sheet).rectangle((*place, place[0] + size[0], place[1] + size[1]), outline=look.rgb, width=2)


def _stroke(draw: ImageDraw.ImageDraw, sign: Sign, place: tuple[int, int], size: tuple[int, int]) -> None:
    """Draw a direction's sign into the legend: an arrow with one head or two, rails, an ellipse, a line with ticks."""
    (x, y), (width, height) = place, size
    middle, head = y + height / 2, height / 3
    if sign == "origin":
        draw.ellipse((x + width / 5, y, x + width * 4 / 5, y + height), outline="black", width=4)
        return
    for off in (-head, head) if sign == "rails" else (0,):
        draw.line((x, middle + off, x + width, middle + off), "black", 4)
    if sign == "hinge":
        for step in range(4):
            draw.line((x + step * width / 3, middle, x + step * width / 3, y + height), "black", 4)
    for end, back in {"arrow": ((x, head), (x + width, -head)), "way": ((x + width, -head),)}.get(sign, ()):
        draw.line((end + back, middle - head, end, middle, end + back, middle + head), "black", 4, joint="curve")


def _scale_bar(
    draw: ImageDraw.ImageDraw,
    measurement: Measurement,
    place: tuple[int, int],
    shown_px: float,
    font: ImageFont.ImageFont | ImageFont.FreeTypeFont,
    size: int,
) -> None:
    px_per_mm = 1000 / measurement.given["um_per_px"] / shown_px
    bar_mm = bar_length_mm(draw.im.size[0] / px_per_mm)
    x, y = place
    right, half = x + bar_mm * px_per_mm, size // 2
    draw.line((x, y + half, right, y + half), "black", max(3, size // 6))
    for end in (x, right):
        draw.line((end, y, end, y + size), "black", max(3, size // 6))
    draw.text((right + half, y), f"{bar_mm:g} mm", "black", font)


def bar_length_mm(width_mm: float) -> float:
    """Return a round length, 1, 2 or 5 times a power of ten, that takes about a fifth of `width_mm`."""
    target = width_mm / 4
    power = 10.0 ** np.floor(np.log10(target))
    return float(max(step * power for step in (1, 2, 5) if step * power <= target))
