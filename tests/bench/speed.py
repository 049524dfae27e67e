"""How long measuring takes beside decoding: `python -m tests.bench.speed [FACE] [--megapixels 12 48] [--repeats 3]`.

A practice face is enlarged with new camera noise to the sizes asked for, then three things are done to each JPEG, each
in a process of its own that has imported all it needs: Pillow's full decode, our whole measurement, and the plain way
with scikit-image at full resolution. Printed are the best of the repeats, each over the full decode, and the most
memory that each took beyond its imports and the file itself. Goal: measuring takes at most twice the decode. Processor
time is what to compare on a machine that does other things too. The shares must lie within the interval of the small
photo, the face as it came.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import multiprocessing
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from scipy import ndimage
from skimage import color, filters, measure, morphology

from analysis.examine import ExamineRequest, examine

FACES = Path(__file__).parents[1] / "faces"
NOISE_CODES = 3.0  # sd of a pixel's own noise, in sRGB codes: a phone's or a microscope's camera at low gain
_GRAIN_PX = 0.6  # the camera's own smoothing of that noise
QUALITY = 92  # of the JPEG, as cameras save it
SHARES = ("bonded_share_of_face", "bonded_area_fraction")


@dataclass(frozen=True)
class Taken:
    """One way on one photo: best seconds on the clock and of the processor, most memory in MB, the answer."""

    wall_s: float
    cpu_s: float
    memory_mb: float
    answer: dict[str, Any]


def enlarged(photo: Path, megapixels: float, seed: int = 1) -> tuple[bytes, float]:
    """The photo as a camera of more pixels had taken it: JPEG bytes, and how many times as wide it became."""
    with Image.open(photo) as image:
        picture = image.convert("RGB")
    factor = (megapixels * 1e6 / (picture.width * picture.height)) ** 0.5
    size = (round(picture.width * factor), round(picture.height * factor))
    rows = np.asarray(picture.resize(size, Image.Resampling.BICUBIC)).copy()
    chance = np.random.default_rng(seed)
    for top in range(0, len(rows), 512):  # in strips, so that 48 MP fit into memory beside the rest
        part = rows[top : top + 512].astype(np.float32)
        noise = ndimage.gaussian_filter(chance.normal(0, 1, part.shape).astype(np.float32), (_GRAIN_PX, _GRAIN_PX, 0))
        rows[top : top + 512] = np.clip(np.rint(part + noise * (NOISE_CODES / noise.std())), 0, 255)
    out = io.BytesIO()
    Image.fromarray(rows).save(out, "JPEG", quality=QUALITY)
    return out.getvalue(), size[0] / picture.width


def decode(data: bytes, known: dict[str, Any]) -> dict[str, Any]:
    """Pillow's full decode, and nothing else."""
    image = Image.open(io.BytesIO(data))
    image.load()
    return {"size": image.size}


def ours(data: bytes, known: dict[str, Any]) -> dict[str, Any]:
    """Our whole measurement, from the bytes to the verdict."""
    request = ExamineRequest(
        photo=data,
        um_per_px=known["um_per_px"],
        line_width_mm=known["line_width_mm"],
        layer_height_mm=known["layer_height_mm"],
        wall_count=known.get("wall_count"),
        contact_band_mm=known.get("contact_band_mm"),
    )
    result = examine(request).result
    return {key: result[key] for key in (*SHARES, "seconds")}


def plain(data: bytes, known: dict[str, Any]) -> dict[str, Any]:
    """The plain way at full resolution: smoothed lightness, edges for the face, Otsu inside it, specks removed."""
    srgb = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    light = filters.gaussian(color.rgb2gray(srgb), 2.0)
    edges = filters.gaussian(filters.sobel(light), 8.0)
    face = morphology.isotropic_closing(edges > filters.threshold_otsu(edges), 20)
    parts = measure.regionprops(measure.label(face))
    biggest = max(parts, key=lambda part: part.area)
    row0, col0, row1, col1 = biggest.bbox
    inside = biggest.image_filled
    cut = light[row0:row1, col0:col1]
    bonded = (cut > filters.threshold_otsu(cut[inside])) & inside
    bonded = morphology.isotropic_opening(bonded, 2)
    return {"bonded_share_of_face": float(bonded.sum() / inside.sum())}


WAYS: dict[str, Callable[[bytes, dict[str, Any]], dict[str, Any]]] = {"decode": decode, "ours": ours, "plain": plain}


def _memory_mb(name: str) -> float:
    """What Linux says of this process: VmRSS, what it holds now, VmHWM, the most it held. nan elsewhere."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        return float("nan")
    return next(float(line.split()[1]) / 1024 for line in lines if line.startswith(name))


def _forget_peak() -> None:
    """Let VmHWM begin anew (proc(5), clear_refs)."""
    with contextlib.suppress(OSError):  # then the peak is that of the whole process, which is no less
        Path("/proc/self/clear_refs").write_text("5")


def _child(way: str, data: bytes, known: dict[str, Any], repeats: int, send: Any) -> None:
    # The first call of anything is slower; a small photo of the same face takes that.
    WAYS[way](*_small(data, known))
    _forget_peak()
    before, walls, cpus, answer = _memory_mb("VmRSS"), [], [], {}
    for _ in range(repeats):
        wall, cpu = time.perf_counter(), time.process_time()
        answer = WAYS[way](data, known)
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    send.send(Taken(min(walls), min(cpus), _memory_mb("VmHWM") - before, answer))


def _small(data: bytes, known: dict[str, Any]) -> tuple[bytes, dict[str, Any]]:
    image = Image.open(io.BytesIO(data))
    image.draft(None, (image.width // 4, image.height // 4))
    factor = known["width_px"] / image.width
    out = io.BytesIO()
    image.save(out, "JPEG")
    return out.getvalue(), known | {"um_per_px": known["um_per_px"] * factor}


def take(way: str, data: bytes, known: dict[str, Any], repeats: int) -> Taken:
    """Run one way in a fresh process, so that memory and caches are its own."""
    context = multiprocessing.get_context("spawn")
    receive, send = context.Pipe(duplex=False)
    child = context.Process(target=_child, args=(way, data, known, repeats, send))
    child.start()
    send.close()
    try:
        taken: Taken = receive.recv()
    finally:
        child.join()
    return taken


def agree(small: dict[str, Any], large: dict[str, Any]) -> list[str]:
    """For each share: its value on the large photo, the small one's interval, and whether the one lies in the other."""
    lines = []
    for name in SHARES:
        value, (low, high) = large[name]["value"], small[name]["interval"]
        said = "within" if low <= value <= high else "NOT WITHIN"
        lines.append(f"{name} {value:.3f} {said} the small photo's {small[name]['value']:.3f} [{low:.3f}, {high:.3f}]")
    return lines


def report(folder: Path, megapixels: float, repeats: int) -> None:
    """Enlarge one face, take the three ways, print."""
    known = json.loads((folder / "input.json").read_text())
    photo = folder / known["photo"]
    data, factor = enlarged(photo, megapixels)
    with Image.open(io.BytesIO(data)) as image:
        facts = known | {"um_per_px": known["um_per_px"] / factor, "width_px": image.width}
    taken = {way: take(way, data, facts, repeats) for way in WAYS}
    base = taken["decode"]
    for way, one in taken.items():
        print(
            f"  {megapixels:4.0f} MP {way:7s} {one.wall_s:7.3f} ({one.cpu_s:7.3f}) s   "
            f"x {one.wall_s / base.wall_s:6.2f} ({one.cpu_s / base.cpu_s:6.2f})   {one.memory_mb:6.0f} MB",
            flush=True,
        )
    for line in agree(ours(photo.read_bytes(), known), taken["ours"].answer):
        print(f"          {line}")
    print(f"          the plain way says {taken['plain'].answer['bonded_share_of_face']:.3f}")


def main() -> None:
    """Report each size asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("face", type=Path, nargs="?", default=FACES / "face_04", help="folder of a practice face")
    parser.add_argument("--megapixels", type=float, nargs="+", default=[12.0, 48.0])
    parser.add_argument("--repeats", type=int, default=3)
    args = parser.parse_args()
    print(f"{args.face.name}   seconds on the clock (of the processor), over the full decode, memory; goal: ours x 2")
    for megapixels in args.megapixels:
        report(args.face, megapixels, args.repeats)


if __name__ == "__main__":
    main()
