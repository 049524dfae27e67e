"""The whole road from a photo to the result: the contract's keys, refusals, and laws that any photo obeys."""

import io
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from analysis.command_measure import main
from analysis.common.classes import NAMES, RUBBED
from analysis.examine import ExamineRequest, RequestRefused, examine
from analysis.imaging.photo import PhotoRefused
from analysis.imaging.scale import ScaleRefused
from analysis.outlines.outline import OutlineRefused

FACES = Path(__file__).parents[1] / "faces"
KEYS = {
    "surface", "face_area_mm2", "outline_px", "holes_px", "unknown_share", "bonded_share_of_face",
    "bonded_area_fraction", "walls", "largest_gap_mm", "layer_planes", "touched_share", "gap_agreement",
    "gap_agreement_by_chance", "mate_fit", "mate_affine", "rub_area_mm2", "scratch_deg", "evidence", "verdict",
    "warnings", "reasons", "seconds", "course",
}  # fmt: skip
OUTER_KEYS = {
    "layer_line_deg", "layer_line_period_mm", "scratch_to_lines_deg", "slopes_along_to_across", "rub_outline_px",
}  # fmt: skip


def _request(name: str, **changes: Any) -> ExamineRequest:
    folder = FACES / name
    known = json.loads((folder / "input.json").read_text())
    values: dict[str, Any] = {
        "photo": folder / "photo.jpg",
        "um_per_px": known["um_per_px"],
        "line_width_mm": known["line_width_mm"],
        "layer_height_mm": known["layer_height_mm"],
        "wall_count": known.get("wall_count"),
        "contact_band_mm": known.get("contact_band_mm"),
        "surface": known["surface"],
    }
    return ExamineRequest(**(values | changes))


def known_um(name: str) -> float:
    return float(json.loads((FACES / name / "input.json").read_text())["um_per_px"])


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        for one in value.values():
            yield from _numbers(one)
    elif isinstance(value, list):
        for one in value:
            yield from _numbers(one)
    elif isinstance(value, float):
        yield value


class TestContract:
    @pytest.mark.parametrize("name", ["face_12", "face_47", "face_50"])
    def test_every_key_is_there_and_is_json(self, name: str) -> None:
        """All keys of the contract, plain JSON, no NaN or infinity."""
        result = examine(_request(name)).result
        assert set(result) == KEYS | (OUTER_KEYS if result["surface"] == "outer" else set())
        assert json.loads(json.dumps(result, allow_nan=False)) == result
        assert all(math.isfinite(n) for n in _numbers(result))

    def test_shares_walls_and_gaps_have_their_parts(self) -> None:
        """Value within interval and bounds' order; walls and gaps with the coordinates of the contract."""
        result = examine(_request("face_12")).result
        for key in ("bonded_share_of_face", "bonded_area_fraction"):
            entry = result[key]
            assert entry["interval"][0] <= entry["value"] <= entry["interval"][1]
            assert entry["bounds"][0] <= entry["bounds"][1]
        for wall in result["walls"]:
            assert set(wall) == {"outline", "index", "start_px", "length_mm", "continuity", "bonded_fraction", "gaps"}
            for gap in wall["gaps"]:
                assert set(gap) == {"start_mm", "end_mm", "length_mm", "start_px", "end_px"}
                assert gap["length_mm"] == pytest.approx(gap["end_mm"] - gap["start_mm"], abs=1e-3)
        assert abs(sum(p["area_share"] for p in result["layer_planes"]) - 1) < 0.15

    def test_every_null_has_a_reason(self) -> None:
        """What can't be had says why."""
        for name in ("face_47", "face_50"):
            result = examine(_request(name)).result
            missing = {k for k, v in result.items() if v is None and k != "verdict"}
            assert missing <= set(result["reasons"])

    def test_outer_surface_has_nothing_of_a_fracture_face(self) -> None:
        """No walls, no shares, each with its reason."""
        result = examine(_request("face_11")).result
        assert result["surface"] == "outer"
        assert result["walls"] == []
        assert result["bonded_share_of_face"] is None
        assert "bonded_area_fraction" in result["reasons"]

    def test_outer_surface_says_besides_what_its_layer_lines_are(self) -> None:
        """The contract's keys and the layer lines', each null with its reason; the label map shows the patch."""
        for name in ("face_11", "face_42"):
            found = examine(_request(name))
            result = found.result
            assert set(result) == KEYS | OUTER_KEYS
            assert {key for key in OUTER_KEYS if result[key] is None} <= set(result["reasons"])
            assert (result["rub_area_mm2"] or 0) > 0 or not (found.labels == RUBBED).any()
            mm2 = (known_um(name) * found.px_per_pixel / 1000) ** 2
            assert (found.labels == RUBBED).sum() * mm2 == pytest.approx(result["rub_area_mm2"] or 0, rel=0.02)

    def test_each_gap_says_whether_the_mate_confirms_it(self) -> None:
        """With a mate that fits every gap has its share, or None where the mate can't tell; without, none has one."""
        folder = FACES / "face_39"
        known = json.loads((folder / "input.json").read_text())
        swapped = {"photo": folder / "mate.jpg", "um_per_px": known["mate_um_per_px"]}
        mate = {"mate": folder / "photo.jpg", "mate_um_per_px": known["um_per_px"]}
        result = examine(_request("face_39", **swapped, **mate)).result
        gaps = [gap for wall in result["walls"] for gap in wall["gaps"]]
        assert result["mate_fit"] == "fits"
        assert gaps
        assert all(gap["confirmed"] is None or 0 <= gap["confirmed"] <= 1 for gap in gaps)
        told = [(gap["length_mm"], gap["confirmed"]) for gap in gaps if gap["confirmed"] is not None]
        if len(told) == len(gaps):
            assert np.average([c for _, c in told], weights=[n for n, _ in told]) == pytest.approx(
                result["gap_agreement"], abs=0.05
            )

    def test_pictures_parts_fit_the_result(self) -> None:
        """The label map holds known codes, lies on the photo where the outline is, and each wall has its strip."""
        found = examine(_request("face_47"))
        assert set(np.unique(found.labels)) <= set(NAMES)
        assert len(found.wall_strips) == len(found.result["walls"])
        outline = np.array(found.result["outline_px"])
        rows, cols = np.nonzero(found.labels)
        left = found.origin_px[0] + found.px_per_pixel * (cols.min() + 0.5) - 0.5
        assert left == pytest.approx(outline[:, 0].min(), abs=2 * found.px_per_pixel)
        top = found.origin_px[1] + found.px_per_pixel * (rows.min() + 0.5) - 0.5
        assert top == pytest.approx(outline[:, 1].min(), abs=2 * found.px_per_pixel)

    def test_same_photo_same_result(self) -> None:
        """Measured twice, every number but the seconds is the same."""
        first, second = (examine(_request("face_47")).result for _ in range(2))
        first["seconds"] = second["seconds"] = None
        assert first == second


class TestProgress:
    def test_stages_are_told_in_order(self) -> None:
        """Progress never goes back and ends at 1."""
        told: list[float] = []
        examine(_request("face_47"), lambda stage, share: told.append(share))
        assert told == sorted(told)
        assert told[-1] == 1.0

    def test_what_progress_raises_ends_the_work(self) -> None:
        """A cancelled job stops: the exception passes through."""

        class Cancelled(Exception):
            pass

        def stop(stage: str, share: float) -> None:
            raise Cancelled

        with pytest.raises(Cancelled):
            examine(_request("face_47"), stop)


class TestRefusals:
    @pytest.mark.parametrize(
        ("changes", "error", "words"),
        [
            ({"um_per_px": 0.0}, ScaleRefused, "0"),
            ({"um_per_px": -3.0}, ScaleRefused, "negative"),
            ({"um_per_px": 5000.0}, ScaleRefused, "wide"),
            ({"line_width_mm": 0.004, "contact_band_mm": None, "layer_height_mm": 0.003}, ScaleRefused, "px wide"),
            ({"line_width_mm": 0.0}, RequestRefused, "line width"),
            ({"layer_height_mm": float("nan")}, RequestRefused, "layer height"),
            ({"contact_band_mm": 5.0}, RequestRefused, "contact band"),
            ({"wall_count": -1}, RequestRefused, "walls"),
            ({"outline": {"holes_px": []}}, RequestRefused, "outline_px"),
            ({"outline": {"outline_px": [[10, 10], [90, 90], [90, 10], [10, 90]]}}, OutlineRefused, "crosses"),
            ({"photo": b"not a photo"}, PhotoRefused, "not a photo"),
            ({"photo": b""}, PhotoRefused, "empty"),
        ],
    )
    def test_each_wrong_input_is_refused_by_name(self, changes: dict[str, Any], error: type, words: str) -> None:
        """A wrong setting raises its own small exception with words for the person."""
        with pytest.raises(error, match=words):
            examine(_request("face_47", **changes))

    def test_command_prints_one_line_and_exits_2(self, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
        """No traceback: one line on standard error."""
        bad = tmp_path / "text.jpg"
        bad.write_text("this is text")
        status = main([str(bad), "--um-per-px", "8", "--line-width", "0.4", "--layer-height", "0.2", "--json"])
        out, err = capsys.readouterr()
        assert status == 2
        assert out == ""
        assert len(err.strip().splitlines()) == 1

    def test_command_prints_the_contract(self, capsys: pytest.CaptureFixture[str]) -> None:
        """With --json exactly one object."""
        words = ["--um-per-px", "11.553734", "--line-width", "0.48", "--layer-height", "0.2", "--walls", "3", "--json"]
        assert main([str(FACES / "face_47" / "photo.jpg"), *words]) == 0
        assert set(json.loads(capsys.readouterr().out)) == KEYS


def _as_png(picture: Image.Image) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", compress_level=1)
    return buffer.getvalue()


class TestLaws:
    """What is done to the photo alone must not move the share out of its own interval."""

    @settings(max_examples=6)
    @given(
        turn=st.sampled_from([0, 17, 90, 180, 245]),
        mirrored=st.booleans(),
        size=st.sampled_from([0.8, 1.0, 1.3]),
        shift=st.integers(0, 40),
    )
    def test_turned_mirrored_scaled_moved(self, turn: int, mirrored: bool, size: float, shift: int) -> None:
        """Turned, mirrored, enlarged and moved, the bonded share stays within the interval."""
        name = "face_47"
        plain = examine(_request(name)).result["bonded_share_of_face"]
        picture = Image.open(FACES / name / "photo.jpg").convert("RGB")
        fill = picture.getpixel((3, 3))
        picture = picture.rotate(turn, Image.Resampling.BICUBIC, expand=True, fillcolor=fill)  # type: ignore[arg-type]
        if mirrored:
            picture = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
        picture = picture.resize((round(picture.width * size), round(picture.height * size)), Image.Resampling.BICUBIC)
        moved = Image.new("RGB", (picture.width + shift, picture.height + shift), fill)  # type: ignore[arg-type]
        moved.paste(picture, (shift, shift))
        outline = _moved_outline(name, turn, mirrored, size, shift)
        scale = json.loads((FACES / name / "input.json").read_text())["um_per_px"] / size
        changed = examine(_request(name, photo=_as_png(moved), um_per_px=scale, outline=outline)).result
        low, high = plain["interval"]
        assert low <= changed["bonded_share_of_face"]["value"] <= high

    @pytest.mark.parametrize("gain", [0.7, 1.2])
    def test_exposure(self, gain: float) -> None:
        """Darker or lighter by a constant factor in linear light, the share stays within the interval."""
        plain = examine(_request("face_37")).result["bonded_share_of_face"]
        srgb = np.asarray(Image.open(FACES / "face_37" / "photo.jpg").convert("RGB")) / 255
        changed = np.clip(srgb**2.2 * gain, 0, 1) ** (1 / 2.2)
        photo = _as_png(Image.fromarray(np.rint(changed * 255).astype(np.uint8)))
        value = examine(_request("face_37", photo=photo)).result["bonded_share_of_face"]["value"]
        assert plain["interval"][0] <= value <= plain["interval"][1]


def _moved_outline(name: str, turn: int, mirrored: bool, size: float, shift: int) -> dict[str, Any]:
    """The true outline, taken along with the picture: these laws are about reading, not about finding."""
    photo = json.loads((FACES / name / "truth.json").read_text())["photo"]
    width, height = photo["camera"]["width"], photo["camera"]["height"]
    angle = np.radians(turn)
    # Pillow turns anticlockwise as seen and grows the canvas; y points down.
    rotate = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    probe = Image.new("1", (width, height)).rotate(turn, expand=True)

    def take(points: list[list[float]]) -> list[list[float]]:
        xy = (np.array(points) - [(width - 1) / 2, (height - 1) / 2]) @ rotate.T
        xy += [(probe.width - 1) / 2, (probe.height - 1) / 2]
        if mirrored:
            xy[:, 0] = probe.width - 1 - xy[:, 0]
        return ((xy + 0.5) * size - 0.5 + shift).tolist()  # type: ignore[no-any-return]

    return {"outline_px": take(photo["outline_px"]), "holes_px": [take(h) for h in photo["holes_px"]]}
