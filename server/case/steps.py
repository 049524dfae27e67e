"""The steps of a case in working order: which are done, what is still to do, where one goes on."""

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import Request

from server.case.current import whole
from server.case.file import CaseFile
from server.links import Link, address, links


@dataclass(frozen=True)
class Step:
    """One step: its heading, whether it is done, what is still to do, the actions it offers."""

    key: str
    heading: str
    done: bool
    todo: str
    actions: list[Link]


def steps_of(request: Request, case: CaseFile) -> list[Step]:
    """Return the steps of `case` in the order in which they are worked through."""
    makers: tuple[Callable[[Request, CaseFile], Step], ...] = (
        _account,
        _pieces,
        _sites,
        _faces,
        _measurements,
        _observations,
        _verdict,
        _change,
        _summary,
    )
    return [make(request, case) for make in makers]


def _to(request: Request, case: CaseFile, name: str, words: str) -> list[Link]:
    return links(Link(words, address(request, name, failure_id=case.failure.id)))


def _account(request: Request, case: CaseFile) -> Step:
    words = "Correct the account" if case.said[-1].as_found else "Complete the account"
    correct = _to(request, case, "failure_correct", words)
    return Step("account", "Account", True, "", [*_to(request, case, "overview", "Photos as found"), *correct])


def _pieces(request: Request, case: CaseFile) -> Step:
    todo = "" if case.pieces else "Log each piece, the missing ones too."
    ways = [*_to(request, case, "fragment_new", "Log a piece"), *_to(request, case, "labels", "Labels for the bags")]
    return Step("pieces", "Pieces", not todo, todo, ways)


def _sites(request: Request, case: CaseFile) -> Step:
    unsure = [site.name for site in case.sites if case.sites_said[site.id or 0][-1].sequence == "unknown"]
    todo = "" if case.sites else "Name each place at which it broke."
    if len(case.sites) > 1 and unsure:
        # Said, but no reason to call the step open: that the order can't be told is an answer.
        todo = f"Where it stands in the order can't be told: {_listed(unsure)}."
    return Step("sites", "Break sites", bool(case.sites), todo, _to(request, case, "site_new", "Log a break site"))


def _faces(request: Request, case: CaseFile) -> Step:
    bare = [face.name for face in case.faces if not case.photos.get(face.id or 0)]
    todo = "" if case.faces else "Log each face and photograph it."
    if bare:
        todo = f"No photo yet: {_listed(bare)}."
    return Step("faces", "Faces and photos", not todo, todo, _to(request, case, "face_new", "Log a face"))


def _measurements(request: Request, case: CaseFile) -> Step:
    pictured = [face for face in case.faces if case.photos.get(face.id or 0)]
    # Outer surfaces may be measured, but what a person sees on them counts as well.
    waiting = [face for face in pictured if face.surface == "fracture" and not case.measured(face)]
    todo = "" if pictured else "Needs a photo of a face first."
    if waiting:
        todo = f"Not measured yet: {_listed([face.name for face in waiting])}."
    ways = [Link(f"Measure {face.name}", address(request, "face", face_id=face.id)) for face in waiting[:1]]
    return Step("measurements", "Measurements", not todo, todo, links(*ways))


def _observations(request: Request, case: CaseFile) -> Step:
    todo = "" if case.answers else "Go through the list of what can be seen."
    words = "Go through the list again" if case.answers else "Enter what is seen"
    return Step("observations", "Observations", not todo, todo, _to(request, case, "observations", words))


def _verdict(request: Request, case: CaseFile) -> Step:
    said = whole(case.conclusions).person or (
        case.conclusions and all(conclusion.person for conclusion in case.conclusions.values())
    )
    if not case.conclusions:
        todo, words = "Let the evidence be weighed.", "Weigh the evidence"
    else:
        todo, words = "" if said else "The person's own conclusion is not entered yet.", "Open the verdict"
    ways = [*_to(request, case, "verdict", words), *_to(request, case, "strength", "Load and strength")]
    return Step("verdict", "Verdict", not todo, todo, ways)


def _change(request: Request, case: CaseFile) -> Step:
    todo = "" if case.changes else "What is to be different next time, and why."
    ways = [*_to(request, case, "plan", "Plan the next build"), *_to(request, case, "change_new", "Log a change")]
    return Step("change", "Change for the next build", not todo, todo, ways)


def _summary(request: Request, case: CaseFile) -> Step:
    todo = "" if case.summaries else "Word it, then print it."
    return Step(
        "summary", "Summary for the customer", not todo, todo, _to(request, case, "summary", "Open the summary")
    )


def _listed(names: list[str]) -> str:
    return "; ".join(f"“{name}”" for name in names)
