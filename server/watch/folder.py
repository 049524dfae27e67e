"""Which files of a folder are new and completely written; by name, size and time, nothing is opened here."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PICTURES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"}
UNFINISHED = {".tmp", ".part", ".partial", ".crdownload", ".download"}  # names that programs give while they write


@dataclass(frozen=True)
class File:
    """A file as it was seen: saved over under the same name, it is another one."""

    path: Path
    size: int
    changed_ns: int

    @property
    def is_picture(self) -> bool:
        """Whether its name is that of a picture which the record takes."""
        return self.path.suffix.lower() in PICTURES


class Folder:
    """A folder that other software saves into. A file is ready once it lay unchanged for `settle_s` seconds."""

    def __init__(self, path: Path, settle_s: float) -> None:
        self.path, self.settle_s = path, settle_s
        self._since: dict[File, float] = {}
        self._done: set[File] = set()

    def present(self) -> list[File]:
        """Return the files there are now, by age; raises OSError where the folder can't be read."""
        files = [file for path in self.path.iterdir() if (file := _seen(path)) is not None]
        return sorted(files, key=lambda file: (file.changed_ns, file.path.name))

    def ready(self, now_s: float) -> Iterator[File]:
        """Yield the files that are complete and not done yet; `now_s` is a clock that only runs forward."""
        there = [file for file in self.present() if file not in self._done]
        self._since = {file: self._since.get(file, now_s) for file in there}
        yield from (file for file in there if file.size and now_s - self._since[file] >= self.settle_s)

    def done(self, file: File) -> None:
        """Don't yield this file again, unless it is saved anew."""
        self._done.add(file)


def _seen(path: Path) -> File | None:
    if path.name.startswith((".", "~")) or path.suffix.lower() in UNFINISHED:
        return None
    try:
        state = path.stat()
    except OSError:  # gone again since the folder was read
        return None
    return File(path, state.st_size, state.st_mtime_ns) if path.is_file() else None
