"""A short film for the browser's pretended camera: uncompressed, so what is captured can be held against it."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image

Pixels = npt.NDArray[np.uint8]


def write_y4m(path: Path, frames: list[Image.Image], per_second: int = 10) -> Path:
    """Write the frames as YUV4MPEG2, 4:2:0.

    Pillow converts to full range (JFIF); films are taken to be in the narrow range of ITU-R BT.601, 16 to 235 and
    16 to 240, so it is brought into that.
    """
    width, height = frames[0].size
    with path.open("wb") as file:
        file.write(f"YUV4MPEG2 W{width} H{height} F{per_second}:1 Ip A1:1 C420jpeg\n".encode())
        for frame in frames:
            luma, blue, red = (np.asarray(band, float) for band in frame.convert("YCbCr").split())
            file.write(b"FRAME\n" + _bytes(luma * 219 / 255 + 16))
            file.writelines(_bytes((_halved(band) - 128) * 224 / 255 + 128) for band in (blue, red))
    return path


def _halved(band: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    height, width = band.shape
    return band.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3))


def _bytes(band: npt.NDArray[np.float64]) -> bytes:
    return np.clip(np.rint(band), 0, 255).astype(np.uint8).tobytes()
