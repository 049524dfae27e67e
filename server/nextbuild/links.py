"""Links that let a colleague look at one case: unguessable, dated, revocable. Only the token's hash is kept."""

import hashlib
import secrets
from datetime import date

from sqlmodel import Session, col, select

from server.records import OpinionLink
from server.records.base import now

TOKEN_BYTES = 32


def new_link(session: Session, link: OpinionLink) -> str:
    """Keep the link and return its token, which is shown once and can't be had again."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link.token_sha256 = hashed(token)
    session.add(link)
    session.commit()
    return token


def hashed(token: str) -> str:
    """The hash under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def find_link(session: Session, token: str) -> OpinionLink | None:
    """The link that a token opens, whether it still does or not; None for a token that never was."""
    return session.exec(select(OpinionLink).where(OpinionLink.token_sha256 == hashed(token))).first()


def why_closed(link: OpinionLink, today: date) -> str:
    """Why a link no longer opens anything; "" while it does."""
    if link.revoked_at is not None:
        return "This link was withdrawn by the person who sent it."
    if today > link.expires_on:
        return "This link has run out. Ask the person who sent it for a new one."
    return ""


def links_of(session: Session, failure_id: int) -> list[OpinionLink]:
    """The links of a case, the newest first."""
    query = select(OpinionLink).where(OpinionLink.failure_id == failure_id).order_by(col(OpinionLink.id).desc())
    return list(session.exec(query).all())


def revoke(session: Session, link: OpinionLink) -> None:
    """Withdraw a link for good; its opinions stay."""
    if link.revoked_at is None:
        link.revoked_at = now()
        session.add(link)
        session.commit()
