"""The prior: how common each mode is held to be before anything was seen. A named setting of the bench."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from analysis.evidence.catalogue import MODES, check_prior, load_catalogue
from server.records import BenchSetting
from server.records.base import now

SETTING = "prior"


@dataclass(frozen=True)
class Prior:
    """The shares over the modes (sum 1) with their name and the reason for them."""

    name: str
    reason: str
    shares: dict[str, float]


def shipped_prior() -> Prior:
    """The prior that comes with the program."""
    book = load_catalogue()
    return Prior(book.prior_name, book.prior_reason, dict(book.prior))


def read_prior(session: Session) -> Prior:
    """The bench's own prior, or the shipped one where none was set."""
    setting = session.get(BenchSetting, SETTING)
    if setting is None:
        return shipped_prior()
    value: Mapping[str, Any] = setting.value
    return Prior(value["name"], value["reason"], check_prior(value["shares"]))


def keep_prior(session: Session, name: str, reason: str, shares: Mapping[str, float]) -> bool:
    """Set the prior, scaled to sum 1; return whether it had to be. Verdicts keep the prior they were made with."""
    scaled = check_prior({mode: float(shares[mode]) for mode in MODES})
    setting = session.get(BenchSetting, SETTING) or BenchSetting(name=SETTING)
    setting.value, setting.entered_at = {"name": name, "reason": reason, "shares": scaled}, now()
    session.add(setting)
    session.commit()
    return abs(sum(shares.values()) - 1.0) > 1e-6


def drop_prior(session: Session) -> None:
    """Go back to the shipped prior."""
    setting = session.get(BenchSetting, SETTING)
    if setting is not None:
        session.delete(setting)
        session.commit()
