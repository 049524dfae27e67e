"""The published interface to the evidence: what is asked, what was answered, the verdict that follows and what if."""

from typing import Annotated, Any, Literal

from fastapi import HTTPException, Query
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from analysis.evidence.catalogue import load_catalogue
from server.database import SessionDep
from server.records import Observation
from server.routes.api import answers
from server.verdict import answers as given
from server.verdict.scope import Scope, read_scope
from server.verdict.verdicts import weigh_scope

Codes = Annotated[list[str] | None, Query(description="Codes of observations to leave out, as if never made")]


class AnswerOut(BaseModel):
    """The answer that holds."""

    answer: str
    note: str
    seen_by: str
    photo_id: int | None
    site_id: int | None


class QuestionOut(BaseModel):
    """A question of the list with its answer, null where it is open."""

    code: str
    words: str
    look_for: str
    group: str
    answer: AnswerOut | None


class ObservationsOut(BaseModel):
    """The whole list, and answers that can't both be true."""

    questions: list[QuestionOut]
    clashes: list[dict[str, Any]]


class AnswerIn(BaseModel):
    """One answer; `photo_id` is the photo it was seen on."""

    model_config = ConfigDict(extra="forbid")

    code: str
    answer: Literal["yes", "no", "cant_tell"]
    note: str = Field("", max_length=4000)
    photo_id: int | None = None


class AnswersIn(BaseModel):
    """Answers of one sitting. Earlier ones are kept; those sent count from now on."""

    model_config = ConfigDict(extra="forbid")

    seen_by: str = Field(min_length=1, max_length=200, description="Who looked")
    answers: list[AnswerIn] = Field(min_length=1, max_length=100)


class VerdictOut(BaseModel):
    """What follows from all that is known now; kept verdicts stand under the failure. Weights in decibans."""

    model_config = ConfigDict(extra="allow")

    primary: str
    probabilities: dict[str, float]
    sentence: str | None
    undetermined_because: str | None
    contributing: list[str]
    contributing_because: list[dict[str, Any]]
    incidental: list[dict[str, Any]]
    contributions: list[dict[str, Any]]
    causes: list[dict[str, Any]]
    clashes: list[dict[str, Any]]
    weights: str
    off: list[str]


@answers(200, e404="No such failure, or no such break site of it")
def read_observations(session: SessionDep, failure_id: int, site: str = "") -> ObservationsOut:
    """The questions with the answers that hold, for the failure as a whole or for one break site."""
    return _observations(session, read_scope(session, failure_id, site))


@answers(201, e404="No such failure, or no such break site of it", e422="A question or photo is not there to be named")
def add_observations(session: SessionDep, failure_id: int, wish: AnswersIn, site: str = "") -> ObservationsOut:
    """Add answers to the record, all or none."""
    scope = read_scope(session, failure_id, site)
    held = {code: entries[-1] for code, entries in given.history(session, failure_id, scope.site_id).items()}
    entries = [_entry(session, scope, one, held.get(one.code), wish.seen_by) for one in wish.answers]
    if len({entry.code for entry in entries}) != len(entries):
        raise HTTPException(422, "One question is answered twice. Send one answer to each.")
    given.keep(session, scope, entries)
    return _observations(session, scope)


def _entry(session: Session, scope: Scope, one: AnswerIn, held: Observation | None, seen_by: str) -> Observation:
    known = {question.code for question in load_catalogue().answers()}
    if one.code not in known:
        raise HTTPException(422, f"There is no question {one.code[:60]}. Take a code from the list of observations.")
    if one.photo_id and str(one.photo_id) not in {key for key, _ in given.photo_choices(session, scope)}:
        raise HTTPException(422, f"{one.code}: photo {one.photo_id} is not one of this failure's faces.")
    if not seen_by.strip():
        raise HTTPException(422, "Say who looked.")
    return Observation(
        failure_id=scope.failure_id,
        code=one.code,
        answer=one.answer,
        note=one.note,
        photo_id=one.photo_id,
        seen_by=seen_by.strip(),
        replaces_id=held.id if held else None,
    )


@answers(200, e404="No such failure, or no such break site of it")
def read_verdict(session: SessionDep, failure_id: int, site: str = "", off: Codes = None) -> VerdictOut:
    """Weigh what is known now, with the observations in `off` left out; nothing is kept."""
    weighing = weigh_scope(session, read_scope(session, failure_id, site), sorted(set(off or ())))
    return VerdictOut.model_validate({**weighing.result, "off": weighing.given["off"]})


def _observations(session: Session, scope: Scope) -> ObservationsOut:
    held = given.current_answers(session, scope)
    questions = [
        QuestionOut(
            code=entry.code,
            words=entry.words,
            look_for=entry.look_for,
            group=entry.group,
            answer=AnswerOut.model_validate(held[entry.code], from_attributes=True) if entry.code in held else None,
        )
        for entry in load_catalogue().answers()
    ]
    return ObservationsOut(questions=questions, clashes=[c.to_json() for c in given.clashes_of(session, scope)])
