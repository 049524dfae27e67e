"""The way to the server: what it has of a face, and sending one picture. Tells apart what to repeat and what not."""

from pathlib import Path
from types import TracebackType
from typing import Any, Self

import httpx

SECONDS = httpx.Timeout(10, write=120, read=120)  # a large photo is decoded whole before the server answers


class WatchRefused(ValueError):
    """Watching can't go on: the address, the face or the cleaning step is wrong. The message says what to do."""


class Unreachable(Exception):
    """The server can't be reached just now; trying again may help."""


class PictureRefused(ValueError):
    """The server does not take this picture; sending it again would change nothing."""


class Sender:
    """A connection to one face of one server."""

    def __init__(self, to: str, face_id: int, treatment_id: int | None = None) -> None:
        self.to, self.face_id, self.treatment_id = _address(to), face_id, treatment_id
        self._http = httpx.Client(timeout=SECONDS)
        self._photos = f"{self.to}/api/faces/{face_id}/photos"

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._http.close()

    def hashes(self) -> set[str]:
        """Return the SHA-256 of every photo that the face has."""
        try:
            answer = self._http.get(self._photos)
        except httpx.HTTPError as error:
            raise Unreachable(f"Nothing answers at {self.to} ({_why(error)}).") from error
        self._check(answer)
        try:
            return {photo["sha256"] for photo in answer.json()}
        except (ValueError, KeyError, TypeError) as error:
            raise WatchRefused(self._another_program()) from error

    def send(self, path: Path) -> str:
        """Send one picture and return what became of it in words; raises OSError where it can't be read."""
        fields = {} if self.treatment_id is None else {"treatment_id": str(self.treatment_id)}
        with path.open("rb") as file:
            try:
                answer = self._http.post(self._photos, files={"photos": (path.name, file)}, data=fields)
            except httpx.HTTPError as error:
                raise Unreachable(f"The connection to {self.to} is broken ({_why(error)}).") from error
        self._check(answer)
        told = _json(answer)
        if answer.is_client_error or not (told.get("kept") or told.get("already_there")):
            raise PictureRefused(str(told.get("detail") or f"the server answered with {answer.status_code}"))
        return f"kept as photo {told['kept'][0]['id']}" if told["kept"] else "was there already"

    def _check(self, answer: httpx.Response) -> None:
        if answer.is_server_error:
            raise Unreachable(f"The server at {self.to} answered with {answer.status_code}.")
        detail = str(_json(answer).get("detail", ""))
        if answer.status_code == 404 and detail.startswith("There is no such face"):
            raise WatchRefused(
                f"There is no face {self.face_id} at {self.to}. Its number stands in its page's address."
            )
        if answer.status_code == 422 and "cleaning step" in detail:
            raise WatchRefused(detail)
        if answer.is_redirect or answer.status_code in {401, 403, 404, 405}:
            raise WatchRefused(self._another_program())

    def _another_program(self) -> str:
        return (
            f"What answers at {self.to} is not Layerwitness, or another version of it. Give the address that its "
            "pages have in the browser, such as --to http://127.0.0.1:8321"
        )


def _address(to: str) -> str:
    try:
        url = httpx.URL(to)
    except httpx.InvalidURL:
        url = httpx.URL("")
    if url.scheme not in {"http", "https"} or not url.host:
        raise WatchRefused(f"{to} is no address of a server. Write it as http://127.0.0.1:8321")
    return str(url.copy_with(path="/", query=None, fragment=None)).rstrip("/") + url.path.rstrip("/")


def _json(answer: httpx.Response) -> dict[str, Any]:
    try:
        told = answer.json()
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


def _why(error: httpx.HTTPError) -> str:
    return str(error) or type(error).__name__
