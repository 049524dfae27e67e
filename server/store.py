"""Originals kept byte for byte under their SHA-256 in a folder; written once, never altered."""

import hashlib
import os
import tempfile
from pathlib import Path


class MissingOriginal(LookupError):
    """The record names an original whose file is gone; the message gives its SHA-256."""


class Store:
    """A folder of blobs addressed by content: `ab/abcdef…` for the SHA-256 `abcdef…`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def path(self, sha256: str) -> Path:
        """Return where the blob lies; the name is checked, so it can't point elsewhere."""
        if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
            raise ValueError(f"not a SHA-256 in lower-case hex: {sha256!r}")
        return self.folder / sha256[:2] / sha256

    def put(self, data: bytes) -> str:
        """Keep `data` and return its SHA-256. Durable on return: file and folder are synced before the name appears."""
        sha256 = hashlib.sha256(data).hexdigest()
        place = self.path(sha256)
        if place.exists():
            return sha256
        place.parent.mkdir(exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=".incoming-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(temporary, 0o444)
            os.replace(temporary, place)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
        for folder in (place.parent, self.folder):
            _sync_folder(folder)
        return sha256

    def read(self, sha256: str) -> bytes:
        """Return the blob; raise `MissingOriginal` when its file is gone."""
        try:
            return self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise MissingOriginal(f"The original {sha256} is not in {self.folder}. Restore it from a backup.") from None


def _sync_folder(folder: Path) -> None:
    # Windows can't open a folder; there the rename itself is all that can be had.
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
