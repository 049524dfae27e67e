"""Every setting of the server, its default and its meaning; the only reader of the environment."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path

import platformdirs

MEGABYTE = 1_000_000


class SettingsRefused(RuntimeError):
    """One or more settings can't be used; the message names each of them at once."""


@dataclass(frozen=True)
class Settings:
    """What a deployment may choose. Environment names are LAYERWITNESS_ and the field's name in capitals."""

    data: Path = field(default_factory=lambda: Path(platformdirs.user_data_dir("layerwitness", appauthor=False)))
    host: str = "127.0.0.1"
    port: int = 8321
    photo_max_bytes: int = 60 * MEGABYTE
    photo_max_pixels: int = 120_000_000
    attachment_max_bytes: int = 200 * MEGABYTE
    request_max_bytes: int = 900 * MEGABYTE
    job_lease_seconds: int = 60
    worker: bool = True

    @property
    def database_url(self) -> str:
        """SQLAlchemy address of the record's database file."""
        return f"sqlite:///{self.data / 'record.sqlite3'}"

    @property
    def blob_folder(self) -> Path:
        """Where originals are kept under their SHA-256; never altered."""
        return self.data / "originals"

    @property
    def derived_folder(self) -> Path:
        """Where thumbnails and overlays are kept; may be deleted at any time."""
        return self.data / "derived"


def read_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """Return the settings, environment over defaults; raise `SettingsRefused` naming every bad value."""
    environment = os.environ if environment is None else environment
    chosen: dict[str, object] = {}
    wrong: list[str] = []
    for spec in fields(Settings):
        name = f"LAYERWITNESS_{spec.name.upper()}"
        if name in environment:
            try:
                chosen[spec.name] = _cast(str(getattr(spec.type, "__name__", spec.type)), environment[name])
            except ValueError as error:
                wrong.append(f"{name}={environment[name]!r}: {error}")
    if wrong:
        raise SettingsRefused("Settings that can't be used: " + "; ".join(wrong))
    return Settings(**chosen)  # type: ignore[arg-type]


def _cast(kind: str, text: str) -> object:
    if kind == "bool":
        if text.lower() not in {"0", "1", "true", "false", "yes", "no"}:
            raise ValueError("write yes or no")
        return text.lower() in {"1", "true", "yes"}
    if kind == "int":
        if not text.isdigit() or int(text) <= 0:
            raise ValueError("write a whole number above 0")
        return int(text)
    if kind == "Path":
        if not text.strip():
            raise ValueError("write a folder")
        return Path(text).expanduser()
    return text
