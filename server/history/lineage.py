"""A part's lineage as a picture: revisions, their builds, stays and failures, and what led to which revision."""

from collections.abc import Iterator
from dataclasses import dataclass

from server.case.current import whole
from server.history.story import Story
from server.naming import failure_name, revision_name, service_name, upper_first
from server.pages import day
from server.records import Build, Failure
from server.wording import words

ROW, STEP, LEFT, WIDTH = 32, 22, 14, 410  # px of the drawing: height of a line, indent, margin, whole width
LETTER = 8.0  # width of an average letter at the drawing's size, rather too wide than too narrow


@dataclass(frozen=True)
class Node:
    """One line of the picture. `kind` is original, revision, build, planned, stay, in_use or failure."""

    key: str
    kind: str
    depth: int
    words: str
    leads_to: str = ""  # the key of the revision that a failure's change was carried out in

    @property
    def x(self) -> int:
        """Where its sign stands."""
        return LEFT + self.depth * STEP

    @property
    def short(self) -> str:
        """The words as far as they fit into the picture."""
        room = int((WIDTH - 40 - self.x - 16) / LETTER)
        return self.words if len(self.words) <= room else self.words[: room - 1].rstrip() + "…"


@dataclass(frozen=True)
class Lineage:
    """The picture: its lines from top to bottom, the strokes between them, and the changes that led on."""

    nodes: list[tuple[Node, int]]
    strokes: list[str]
    changes: list[tuple[str, str]]
    width: int
    height: int
    told: str


def lineage_of(story: Story, planned: set[int]) -> Lineage | None:
    """Return the picture of `story`; None where there is no revision yet. `planned` are builds that are only chosen."""
    nodes = list(_nodes(story, planned))
    if not nodes:
        return None
    at = {node.key: ROW // 2 + number * ROW for number, node in enumerate(nodes)}
    count = [
        sum(node.kind in kinds for node in nodes) for kinds in (("original", "revision"), ("build",), ("failure",))
    ]
    told = ", ".join(
        f"{number} {name}{'s' if number != 1 else ''}"
        for number, name in zip(count, ("revision", "build", "failure"), strict=True)
    )
    return Lineage(
        [(node, at[node.key]) for node in nodes],
        list(_strokes(nodes)),
        list(_changes(nodes, at)),
        WIDTH,
        ROW * len(nodes),
        f"Lineage of {story.part.name}: {told}. Told line by line below the picture.",
    )


def _nodes(story: Story, planned: set[int]) -> Iterator[Node]:
    for revision in story.revisions:
        made = [build for build in story.builds if build.revision_id == revision.id]
        drawn = f", {day(revision.drawn_on)}" if revision.drawn_on else ""
        kind = "original" if revision.is_original else "revision"
        yield Node(f"r{revision.id}", kind, 0, upper_first(revision_name(revision)) + drawn)
        for failure in story.failures:
            if failure.revision_id == revision.id and failure.build_id is None:
                yield _failure(story, failure, 1)
        for build in made:
            yield from _build(story, build, planned)


def _build(story: Story, build: Build, planned: set[int]) -> Iterator[Node]:
    spool = story.spools.get(build.spool_id)
    is_planned = build.id in planned and build.built_on is None
    when = "planned" if is_planned else day(build.built_on) if build.built_on else "day not known"
    told = ", ".join(text for text in (f"Build {build.id}", when, spool.material if spool else "") if text)
    yield Node(f"b{build.id}", "planned" if is_planned else "build", 1, told)
    failures = [failure for failure in story.failures if failure.build_id == build.id]
    for stay in (stay for stay in story.services if stay.build_id == build.id):
        ended = stay.removed_on is not None or any(failure.service_id == stay.id for failure in failures)
        told = upper_first(service_name(stay)) + ("" if ended else ", in use")
        yield Node(f"s{stay.id}", "stay" if ended else "in_use", 2, told)
    for failure in failures:
        yield _failure(story, failure, 2)


def _failure(story: Story, failure: Failure, depth: int) -> Node:
    verdict = whole(story.conclusions.get(failure.id or 0)).code
    said = words(verdict, "mode") if verdict else "no verdict yet"
    done = [change.done_in_revision_id for change in story.changes.get(failure.id or 0, [])]
    led_to = next((key for key in done if key is not None), None)
    told = f"{failure_name(failure)}: {said}, {day(story.found_on(failure))}"
    return Node(f"f{failure.id}", "failure", depth, told, f"r{led_to}" if led_to else "")


def _strokes(nodes: list[Node]) -> Iterator[str]:
    """Yield a stroke from each line's sign up to that of the line it belongs to."""
    above: dict[int, int] = {}
    for number, node in enumerate(nodes):
        y = ROW // 2 + number * ROW
        if node.depth and node.depth - 1 in above:
            yield f"M{node.x - STEP} {above[node.depth - 1] + 8}V{y}H{node.x - 8}"
        above[node.depth] = y


def _changes(nodes: list[Node], at: dict[str, int]) -> Iterator[tuple[str, str]]:
    """Yield the line from each failure to the revision it led to, along the right edge, and its arrow's head."""
    ends = {node.key: node.x + 16 + len(node.short) * LETTER for node in nodes}
    for number, node in enumerate(node for node in nodes if node.leads_to in at):
        lane = WIDTH - 6 - 8 * (number % 4)
        tip, y = ends[node.leads_to] + 4, at[node.leads_to] + 2 * (number % 4)
        yield f"M{ends[node.key]:.0f} {at[node.key]}H{lane}V{y}H{tip:.0f}", f"M{tip:.0f} {y}l8 -4v8z"
