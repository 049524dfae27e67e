"""Both halves in one frame: the mate lands where the fit says, without metadata, and gaps say what it confirms."""

import io
from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from PIL import Image
from sqlmodel import Session

from server.records import Measurement, Photo
from tests.server.builders import make_face, make_fragment, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import GPS_TAG, MAKER, RESULT, make_measurement

# The mate's photo: mirrored, a quarter larger, turned a little, shifted.
TURN = np.radians(12)
AFFINE = np.column_stack(
    [
        1.25 * np.array([[np.cos(TURN), -np.sin(TURN)], [np.sin(TURN), np.cos(TURN)]]) @ np.diag([-1.0, 1.0]),
        [1300.0, 40.0],
    ]
)
SPOTS = {(300.0, 200.0): (255, 0, 0), (620.0, 380.0): (0, 255, 0), (420.0, 420.0): (0, 0, 255)}
FRAME = (253, 153)  # where the frame begins: the outline below with its margin of 0.07 of 380 px
OUTLINE = [[280, 180], [660, 180], [660, 420], [280, 420]]


def jpeg(size: tuple[int, int], spots: dict[tuple[float, float], tuple[int, int, int]]) -> bytes:
    """A grey photo with discs of 9 px, carrying a camera's name and a place on earth."""
    array = np.full((size[1], size[0], 3), 128, np.uint8)
    row, col = np.indices(array.shape[:2])
    for (x, y), colour in spots.items():
        array[np.hypot(col - x, row - y) < 9] = colour
    file, exif = io.BytesIO(), Image.Exif()
    exif[0x010F] = MAKER
    exif.get_ifd(GPS_TAG)[1] = "N"
    Image.fromarray(array).save(file, "JPEG", quality=95, exif=exif)
    return file.getvalue()


def pair(session: Session, app: FastAPI, **changes: Any) -> tuple[Measurement, Photo]:
    """A measurement with a mate whose photo shows the same spots where `AFFINE` puts them."""
    piece = make_fragment(session)
    face, mate_face = make_face(session, piece, name="1a"), make_face(session, piece, name="2b")
    there = {tuple(AFFINE[:, :2] @ np.array(spot) + AFFINE[:, 2]): colour for spot, colour in SPOTS.items()}
    photo = make_photo(session, face, app, data=jpeg((900, 600), SPOTS), width_px=900, height_px=600)
    mate = make_photo(session, mate_face, app, data=jpeg((1400, 900), there), width_px=1400, height_px=900)
    result = RESULT | {"outline_px": OUTLINE, "mate_fit": "fits", "mate_affine": AFFINE.tolist()} | changes
    given = {"um_per_px": 10.0, "line_width_mm": 0.4, "layer_height_mm": 0.2, "mate_photo_id": mate.id}
    return make_measurement(session, app, photo, result=result, given=given), mate


def middle(picture: np.ndarray[Any, Any], colour: tuple[int, int, int]) -> np.ndarray[Any, Any]:
    """Centre (x, y) of what has this colour."""
    rows, cols = np.nonzero(np.abs(picture.astype(int) - colour).max(2) < 90)
    return np.array([cols.mean(), rows.mean()])


class TestPictures:
    def test_mate_lies_on_this_face(self, client: Client, session: Session, app: FastAPI) -> None:
        """Each spot of the mate falls on its own place of this photo, to a px: mirrored, turned, scaled, shifted."""
        found, _ = pair(session, app)
        here, there = (
            np.asarray(Image.open(io.BytesIO(client.get(f"/measurements/{found.id}/mate/{which}.jpg").content)))
            for which in ("here", "there")
        )
        assert here.shape == there.shape
        for spot, colour in SPOTS.items():
            assert middle(here, colour) + FRAME[:2] == pytest.approx(np.array(spot), abs=0.6)
            assert middle(there, colour) == pytest.approx(middle(here, colour), abs=1.0)

    def test_reduced_alike(self, client: Client, session: Session, app: FastAPI) -> None:
        """At a smaller size both are smaller alike and still lie on each other."""
        found, _ = pair(session, app)
        here, there = (
            np.asarray(
                Image.open(io.BytesIO(client.get(f"/measurements/{found.id}/mate/{which}.jpg?side=300").content))
            )
            for which in ("here", "there")
        )
        assert max(here.shape) == 320
        for colour in SPOTS.values():
            assert middle(there, colour) == pytest.approx(middle(here, colour), abs=1.0)

    def test_no_metadata(self, client: Client, session: Session, app: FastAPI) -> None:
        """Neither picture holds what the camera wrote."""
        found, _ = pair(session, app)
        for which in ("here", "there"):
            answer = client.get(f"/measurements/{found.id}/mate/{which}.jpg")
            assert answer.headers["content-type"] == "image/jpeg"
            assert not Image.open(io.BytesIO(answer.content)).getexif()
            assert MAKER.encode() not in answer.content

    def test_not_there(self, client: Client, session: Session, app: FastAPI) -> None:
        """No third half; no page and no picture where no mate was laid on the face."""
        found, _ = pair(session, app)
        assert client.get(f"/measurements/{found.id}/mate/beyond.jpg").status_code == 404
        alone, _ = pair(session, app, mate_affine=None, mate_fit="refused")
        for path in ("mate", "mate/there.jpg"):
            assert client.get(f"/measurements/{alone.id}/{path}").status_code == 404
        assert "Both halves in one frame" not in client.get(f"/measurements/{alone.id}").text


class TestPage:
    def test_both_outlines(self, client: Client, session: Session, app: FastAPI) -> None:
        """The mate's own outline, as it was measured, is drawn where the fit puts it; unknown, the page says so."""
        found, mate = pair(session, app)
        page = client.get(f"/measurements/{found.id}/mate").text
        assert "Its own outline is not in the record" in page
        ring = (np.array(OUTLINE, float) @ AFFINE[:, :2].T + AFFINE[:, 2]).tolist()
        make_measurement(session, app, mate, result=RESULT | {"outline_px": ring})
        page = client.get(f"/measurements/{found.id}/mate").text
        assert "Its own outline is not in the record" not in page
        drawn = '<polygon class="ring {} layer-{}" points="280.5,180.5 660.5,180.5 660.5,420.5 280.5,420.5"/>'
        assert drawn.format("over", "here") in page
        assert drawn.format("mate", "there") in page

    def test_each_gap_is_answered_for(self, client: Client, session: Session, app: FastAPI) -> None:
        """Yes, no and can't tell stand beside each gap, and the whole with what chance would bring."""
        gap = RESULT["walls"][0]["gaps"][0] | {"start_px": [300, 190], "end_px": [400, 190]}
        gaps = [
            gap | {"start_mm": at, "end_mm": at + 2, "confirmed": share}
            for at, share in ((1, 1.0), (5, 0.1), (9, None))
        ]
        walls = [RESULT["walls"][0] | {"gaps": gaps}]
        found, _ = pair(session, app, walls=walls, gap_agreement=0.55, gap_agreement_by_chance=0.2)
        page = client.get(f"/measurements/{found.id}/mate").text
        for words in ('mate-yes">yes<', 'mate-no">no (10 % of it)<', 'mate-cant_tell">can&#39;t tell<'):
            assert words in page
        assert "confirms 55 % of the gaps" in page
        assert "would come to 20 %" in page
        assert f"/measurements/{found.id}/mate" in client.get(f"/measurements/{found.id}").text

    def test_uncertain_fit(self, client: Client, session: Session, app: FastAPI) -> None:
        """A fit that is not certain is shown as such, with its reason."""
        found, _ = pair(session, app, mate_fit="uncertain", reasons={"gap_agreement": "The shape is round."})
        page = client.get(f"/measurements/{found.id}/mate").text
        assert "It is not certain that these two belong together" in page
        assert "The shape is round." in page
