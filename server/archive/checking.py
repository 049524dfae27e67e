"""An archive looked through before anything of it is used: names, sizes and hashes. Names are never used as paths."""

import hashlib
import json
import zipfile
import zlib
from dataclasses import dataclass
from typing import IO, Any

from server.archive import layout


class ArchiveRefused(ValueError):
    """The archive can't be read into this record; the message says why and what to do. Nothing was changed."""


@dataclass(frozen=True)
class Checked:
    """An open archive in which every file is what the manifest says."""

    zip: zipfile.ZipFile
    manifest: dict[str, Any]
    originals: list[str]


def check(file: IO[bytes], schema: str, most_original_bytes: int) -> Checked:
    """Return the archive in `file`, looked through; raise `ArchiveRefused` where anything about it is wrong."""
    try:
        archive = zipfile.ZipFile(file)
        file.seek(0, 2)
        packed_bytes = file.tell()
        _check_entries(archive, packed_bytes)
        manifest = _manifest(archive, schema)
        originals = _check_hashes(archive, manifest, most_original_bytes)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError, zlib.error) as error:
        raise ArchiveRefused(f"This file is no archive, or it is damaged ({error}). Take another copy of it.") from None
    return Checked(archive, manifest, originals)


def _check_entries(archive: zipfile.ZipFile, packed_bytes: int) -> None:
    entries = archive.infolist()
    if len(entries) > layout.MOST_ENTRIES:
        raise ArchiveRefused(f"The archive holds {len(entries)} files; more than {layout.MOST_ENTRIES} are not read.")
    total = sum(entry.file_size for entry in entries)
    if total > max(layout.SMALL_BYTES, layout.MOST_TIMES * packed_bytes):
        raise ArchiveRefused(
            f"The archive would unpack to {total // 1_000_000} MB, more than {layout.MOST_TIMES} times its size. "
            "An archive that this program wrote doesn't."
        )
    names = [entry.filename for entry in entries]
    known = layout.expected_names()
    for name in names:
        if name not in known and not layout.ORIGINAL.fullmatch(name):
            raise ArchiveRefused(
                f"The archive holds {name[:80]!r}, which has no place in one. It was not written here."
            )
    if any(entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED} for entry in entries):
        raise ArchiveRefused("The archive is packed in a way that this program doesn't use.")
    if len(set(names)) != len(names):
        raise ArchiveRefused("The archive holds two files of one name. It was not written by this program.")


def _manifest(archive: zipfile.ZipFile, schema: str) -> dict[str, Any]:
    if layout.MANIFEST not in archive.namelist():
        raise ArchiveRefused("The archive holds no manifest.json, so it isn't one of this program.")
    if archive.getinfo(layout.MANIFEST).file_size > layout.MOST_MANIFEST_BYTES:
        raise ArchiveRefused("The archive's manifest.json is too large to be one.")
    try:
        manifest = json.loads(archive.read(layout.MANIFEST))
    except (ValueError, RecursionError):
        raise ArchiveRefused("The archive's manifest.json can't be read. Take another copy of it.") from None
    if not isinstance(manifest, dict) or manifest.get("format") != layout.FORMAT:
        raise ArchiveRefused("The file is an archive of something else.")
    if manifest.get("version") != layout.VERSION or manifest.get("schema") != schema:
        raise ArchiveRefused(
            f"The archive was written by another version of the program ({str(manifest.get('program'))[:40]}), "
            f"with tables at step {str(manifest.get('schema'))[:20]}; here they are at {schema}. "
            "Import it with that version into an empty folder; "
            "this version brings that folder up to date when it starts there."
        )
    return manifest


def _check_hashes(archive: zipfile.ZipFile, manifest: dict[str, Any], most_original_bytes: int) -> list[str]:
    told, originals = manifest.get("files"), manifest.get("originals")
    if not isinstance(told, dict) or not isinstance(originals, list) or not isinstance(manifest.get("rows"), dict):
        raise ArchiveRefused("The archive's manifest.json is not complete. Take another copy of it.")
    expected = {**told, **{f"originals/{sha256}": sha256 for sha256 in originals}}
    names = set(archive.namelist()) - {layout.MANIFEST}
    if names != set(expected) or names - layout.expected_names() != {f"originals/{one}" for one in originals}:
        odd = sorted(str(name) for name in names ^ set(expected))[:3]
        raise ArchiveRefused(f"The archive and its manifest don't agree on {', '.join(odd)[:200]}. It isn't complete.")
    for name, sha256 in expected.items():
        entry = archive.getinfo(name)
        if name.startswith("originals/") and entry.file_size > most_original_bytes:
            raise ArchiveRefused(
                f"An original of {entry.file_size // 1_000_000} MB is larger than this log takes. "
                "Raise LAYERWITNESS_ATTACHMENT_MAX_BYTES."
            )
        with archive.open(entry) as opened:
            if hashlib.file_digest(opened, "sha256").hexdigest() != sha256:  # type: ignore[arg-type]
                raise ArchiveRefused(f"{name} is not what it was when the archive was written. Take another copy.")
    return originals
