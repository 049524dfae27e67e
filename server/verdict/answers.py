"""Answers to the list of questions: what is held at present, what was held before, and what an accepted form adds."""

from dataclasses import dataclass

from sqlmodel import Session, col, select
from starlette.datastructures import FormData

from analysis.evidence.catalogue import Observation as Question
from analysis.evidence.catalogue import load_catalogue
from analysis.evidence.clashes import Clash, clashes
from analysis.evidence.observations import Seen
from server.case.current import failure_entries
from server.forms.observations import AnswerForm, LookForm
from server.records import Face, Observation, Photo
from server.verdict.scope import Scope, faces_of, photos_of
from server.verdict.sights import SIGHTS, Sight
from server.wording import words

# Questions to which the account of the failure may say something in words already: code to the field's name.
TOLD = {"held_whitened": "found_sound", "repair_before": "happened_before", "overload_seen": "load_words"}


@dataclass(frozen=True)
class Asked:
    """One question as a page shows it: its form, the present answer and those before it."""

    question: Question
    form: AnswerForm
    current: Observation | None
    before: tuple[Observation, ...]
    from_whole: Observation | None  # what was answered for the failure as a whole, where a site is looked at
    told: str = ""  # what the account says about it; words are not an answer, so it weighs nothing by itself
    clash: str = ""  # why the present answer can't stand beside another one

    @property
    def sight(self) -> Sight | None:
        """The drawing of what to look for, where there is one."""
        return SIGHTS.get(self.question.code)


@dataclass(frozen=True)
class Group:
    """Questions that look at the same thing from several sides."""

    code: str
    words: str
    asked: tuple[Asked, ...]

    @property
    def answered(self) -> int:
        """How many of the group's questions have an answer."""
        return sum(one.current is not None for one in self.asked)


def history(session: Session, failure_id: int, site_id: int | None) -> dict[str, list[Observation]]:
    """Every answer given for exactly this scope, by question, the oldest first."""
    query = select(Observation).where(Observation.failure_id == failure_id, Observation.site_id == site_id)
    found: dict[str, list[Observation]] = {}
    for entry in session.exec(query.order_by(col(Observation.id))).all():
        found.setdefault(entry.code, []).append(entry)
    return found


def current_answers(session: Session, scope: Scope) -> dict[str, Observation]:
    """The answers that hold: the newest per question; a site's own answer goes before that for the whole failure."""
    levels = [None] if scope.site_id is None else [None, scope.site_id]
    held: dict[str, Observation] = {}
    for level in levels:
        held |= {code: entries[-1] for code, entries in history(session, scope.failure_id, level).items()}
    return held


def clashes_of(session: Session, scope: Scope) -> list[Clash]:
    """The answers that hold and can't both be true."""
    book = load_catalogue()
    held = [
        Seen(code, entry.answer)  # type: ignore[arg-type]
        for code, entry in current_answers(session, scope).items()
        if code in book.observations
    ]
    return clashes(held, book)


def _against(found: list[Clash]) -> dict[str, str]:
    """What stands beside each of two questions whose answers rule each other out."""
    asked = load_catalogue().observations
    return {
        one: f"This and “{asked[other].words}” can't both be true of one break. Change one, or answer “can't tell”."
        for clash in found
        for one, other in (clash.codes, clash.codes[::-1])
    }


def photo_choices(session: Session, scope: Scope) -> list[tuple[str, str]]:
    """The photos that an answer can refer to, called by face and place in the order, never by file name."""
    faces = faces_of(session, scope)
    named = {face.id: face.name for face in faces}
    counts: dict[int | None, int] = {}
    choices = []
    for photo in photos_of(session, faces):
        counts[photo.face_id] = counts.get(photo.face_id, 0) + 1
        choices.append((str(photo.id), photo_name(photo, named.get(photo.face_id, ""), counts[photo.face_id])))
    return choices


def photo_name(photo: Photo, face_name: str, number: int) -> str:
    """What a photo is called on a page."""
    return f"{face_name}, photo {number} ({words(photo.stage, 'stage')}{', rendered' if photo.is_rendered else ''})"


def ask(session: Session, scope: Scope, sent: FormData | None = None) -> list[Group]:
    """The whole list, filled in with `sent` where a form came, else with what is held."""
    book, held = load_catalogue(), history(session, scope.failure_id, scope.site_id)
    whole = history(session, scope.failure_id, None) if scope.site else {}
    photos = photo_choices(session, scope)
    account = next(reversed(failure_entries(session, [scope.failure_id]).get(scope.failure_id, [])), None)
    against = _against(clashes_of(session, scope))

    def one(question: Question) -> Asked:
        entries = held.get(question.code, [])
        current = entries[-1] if entries else None
        form = AnswerForm(sent, prefix=f"{question.code}-", data=_as_data(current))
        form.offer(photos)
        over_all = whole.get(question.code)
        return Asked(
            question,
            form,
            current,
            tuple(reversed(entries[:-1])),
            over_all[-1] if over_all else None,
            getattr(account, TOLD.get(question.code, ""), "") if account else "",
            against.get(question.code, ""),
        )

    grouped: dict[str, list[Asked]] = {}
    for question in book.answers():
        grouped.setdefault(question.group, []).append(one(question))
    return [Group(code, title(book.groups[code]), tuple(asked)) for code, asked in grouped.items()]


def title(group: object) -> str:
    """The words of a group, whichever shape the catalogue gives it."""
    return str(getattr(group, "words", group))


def _as_data(entry: Observation | None) -> dict[str, str]:
    if entry is None:
        return {}
    return {"answer": entry.answer, "note": entry.note, "photo": str(entry.photo_id or "")}


def changed(groups: list[Group], look: LookForm) -> list[tuple[Asked, Observation]]:
    """The entries that the form adds: answers that differ from what is held, nothing else."""
    found = []
    for asked in (one for group in groups for one in group.asked):
        form = asked.form
        if not form.answer.data:
            continue
        chosen = form.photo.data or ("" if asked.current else look.photo.data or "")
        entry = Observation(
            failure_id=0,
            code=asked.question.code,
            answer=form.answer.data,
            note=form.note.data or "",
            photo_id=int(chosen) if chosen else None,
            seen_by=look.seen_by.data or "",
            replaces_id=asked.current.id if asked.current else None,
        )
        if not _same(asked.current, entry):
            found.append((asked, entry))
    return found


def _same(held: Observation | None, new: Observation) -> bool:
    return held is not None and (held.answer, held.note, held.photo_id) == (new.answer, new.note, new.photo_id)


def keep(session: Session, scope: Scope, entries: list[Observation]) -> None:
    """Add the entries to the record; none is ever changed afterwards."""
    for entry in entries:
        entry.failure_id, entry.site_id = scope.failure_id, scope.site_id
        session.add(entry)
    session.commit()


def unassigned_faces(session: Session, scope: Scope) -> list[Face]:
    """Faces that belong to no site although there are several; no site's verdict can count them."""
    if len(scope.sites) < 2:
        return []
    return [face for face in faces_of(session, scope.at(None)) if face.site_id is None]
