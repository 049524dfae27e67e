"""The watching: each new picture of a folder is sent once; what could not be sent yet waits, over a restart too."""

import hashlib
import json
import time
from collections.abc import Callable
from pathlib import Path

from server.watch.folder import File, Folder
from server.watch.sender import PictureRefused, Sender, Unreachable

FIRST_PAUSE_S, LONGEST_PAUSE_S = 1.0, 30.0


class Notes:
    """Names of pictures that were seen as new and not sent yet, in a small hidden file of the folder itself."""

    def __init__(self, folder: Path, face_id: int) -> None:
        self._file = folder / f".layerwitness-face-{face_id}.json"
        self.waiting = set(self._read())

    def _read(self) -> list[str]:
        try:
            held = json.loads(self._file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return []
        return [name for name in held if isinstance(name, str)] if isinstance(held, list) else []

    def set_waiting(self, names: set[str]) -> None:
        """Write the names down; in a folder that can't be written to they are only remembered until the end."""
        if names == self.waiting:
            return
        self.waiting = names
        try:
            if names:
                self._file.write_text(json.dumps(sorted(names)), encoding="utf-8")
            else:
                self._file.unlink(missing_ok=True)
        except OSError:
            return


class Watcher:
    """Looks into the folder, sends what is ready, and waits longer and longer while the server is out of reach."""

    def __init__(self, folder: Folder, sender: Sender, notes: Notes, say: Callable[[str], None]) -> None:
        self.folder, self.sender, self.notes, self.say = folder, sender, notes, say
        self.known: set[str] = set()
        self.sent = 0
        self._pause_s = 0.0
        self._try_at_s = 0.0
        self._folder_gone = False
        self._unreadable: set[File] = set()

    def begin(self, with_present: bool) -> None:
        """Ask what the server has, and leave alone what lies in the folder already, but for what still waited."""
        self.known = self.sender.hashes()
        left = [file for file in self.folder.present() if file.path.name not in self.notes.waiting]
        if with_present or not left:
            return
        for file in left:
            self.folder.done(file)
        pictures = sum(file.is_picture for file in left)
        if pictures:
            those = "1 picture that lies" if pictures == 1 else f"{pictures} pictures that lie"
            self.say(f"Left alone: {those} here already; --all sends such too.")

    def look(self) -> None:
        """Send what is ready now; a broken connection is told once, and tried again after a pause."""
        now_s = time.monotonic()
        try:
            ready = list(self.folder.ready(now_s))
        except OSError as error:
            if not self._folder_gone:
                self.say(f"The folder can't be read just now ({error.strerror}). Waiting for it.")
            self._folder_gone = True
            return
        self._folder_gone = False
        pictures = [file for file in ready if self._picture(file)]
        self.notes.set_waiting({file.path.name for file in pictures})
        if now_s < self._try_at_s:
            return
        for file in pictures:
            if not self._send(file):
                break
            if file not in self._unreadable:
                self.notes.set_waiting(self.notes.waiting - {file.path.name})

    def _picture(self, file: File) -> bool:
        if file.is_picture:
            return True
        hint = "; let the software save PNG or TIFF" if file.path.suffix.lower() == ".bmp" else ""
        self.say(f"{file.path.name}: no picture that can be kept, left alone{hint}")
        self.folder.done(file)
        return False

    def _send(self, file: File) -> bool:
        """Send one file and return whether to go on with the next."""
        try:
            digest = _sha256(file.path)
            if digest in self.known:
                told = "was there already"
            else:
                told = self.sender.send(file.path)
                self.sent += told.startswith("kept")
            self.known.add(digest)
        except PictureRefused as error:
            told = f"not kept: {error}"
        except OSError as error:
            # Gone again, or its program still holds it: it is looked at anew, and counts as new once it changes.
            if file not in self._unreadable:
                self.say(f"{file.path.name}: can't be read just now ({error.strerror})")
            self._unreadable.add(file)
            return True
        except Unreachable as error:
            self._lost(str(error))
            return False
        self._found()
        self._unreadable.discard(file)
        self.folder.done(file)
        self.say(f"{file.path.name}: {told}")
        return True

    def _lost(self, words: str) -> None:
        if not self._pause_s:
            self.say(f"{words} Trying again until it answers.")
        self._pause_s = min(max(FIRST_PAUSE_S, 2 * self._pause_s), LONGEST_PAUSE_S)
        self._try_at_s = time.monotonic() + self._pause_s

    def _found(self) -> None:
        if self._pause_s:
            self.say("The server answers again.")
        self._pause_s = self._try_at_s = 0.0


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
