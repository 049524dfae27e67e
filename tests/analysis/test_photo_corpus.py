"""Files that broke decoders before: a folder of them may lie beside the project, else these checks are skipped."""

import os
from pathlib import Path

import numpy as np
import pytest

from analysis.imaging.photo import PhotoRefused, check_photo, read_photo

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "data"
CORPUS = Path(os.environ.get("LAYERWITNESS_CODEC_CORPUS", BESIDE / "pillow-codec-corpus"))
EXAMPLES = Path(os.environ.get("LAYERWITNESS_EXIF_EXAMPLES", BESIDE / "exif-orientation"))
REFUSED_VALID = {
    "10ct_32bit_128.tiff",  # 32-bit float
    "16bit.s.tif",  # signed
    "hopper.Lab.tif",
    "lab.tif",
    "hopper.bmp",
    "hopper.gif",
    "hopper_16bit.pgm",
}


def test_every_file_of_the_corpus_is_read_or_refused() -> None:
    """Of the corpus, each valid photo of our kinds is read at the size its facts say, and nothing fails otherwise."""
    if not CORPUS.is_dir():
        pytest.skip("no folder of decoder-breaking files beside the project")
    refused = set()
    for path in sorted(p for p in CORPUS.rglob("*") if p.is_file()):
        try:
            facts = check_photo(path.read_bytes())
            assert read_photo(path).srgb.shape == (facts.height_px, facts.width_px, 3), path.name
        except PhotoRefused:
            refused.add(path.name)
    assert {p.name for p in (CORPUS / "valid").iterdir()} & refused == REFUSED_VALID
    assert not {p.name for p in (CORPUS / "heif").iterdir()} & refused
    assert {"truncated_jpeg.jpg", "truncated_image.png", "png_decompression_dos.png", "empty.heic"} <= refused


@pytest.mark.parametrize("scene", ["Landscape", "Portrait"])
def test_one_scene_in_nine_orientations_looks_the_same(scene: str) -> None:
    """Photographs stored with tags 0 to 8 come out alike, within what recompression changes."""
    if not EXAMPLES.is_dir():
        pytest.skip("no folder of orientation examples beside the project")
    first = read_photo(EXAMPLES / f"{scene}_1.jpg", max_side_px=300).srgb.astype(float)
    for tag in range(9):
        other = read_photo(EXAMPLES / f"{scene}_{tag}.jpg", max_side_px=300).srgb
        assert np.abs(other - first).mean() < 5.0, tag
