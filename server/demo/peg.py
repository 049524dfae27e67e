"""The tension peg: too little is known, and the verdict says so."""

from math import cos, radians, sin

from server.demo.desk import Answers, Desk

# Pale on pale: the desk drew the outline by hand, as a circle, and marked the two largest spots of grease. Nothing of
# known size is in the picture, so the face stays unmeasured.
OUTLINE = [[822 + 478 * cos(radians(turn)), 619 + 480 * sin(radians(turn))] for turn in range(0, 360, 12)]
GREASE = [
    [[640.0, 455.0], [780.0, 455.0], [790.0, 575.0], [650.0, 560.0]],
    [[355.0, 530.0], [545.0, 535.0], [545.0, 635.0], [372.0, 645.0]],
]

SEEN: Answers = {
    "overload_seen": "cant_tell",
    "ordinary_load": "cant_tell",
    "bare_roads_both": ("cant_tell", "the other half is gone"),
    "chemical_at_origin": ("yes", "brown grease on the face"),
}


def tell(desk: Desk) -> None:
    """Tell of the peg that came in a bag, with no story and half of it."""
    part = desk.part(
        12,
        name="Tension peg",
        fitted_where="Not known; a tape loom, by the look of it",
        function="Holds the warp under tension.",
        note="Left in the letter box without a name.",
    )
    revision = desk.revision(part, 1, None, is_original=True, what_changed="As brought in; who drew it isn't known.")
    build = desk.build(
        revision,
        11,
        spool_id=desk.shelf.pla_natural,
        line_width_mm=0.50,
        layer_height_mm=0.25,
        wall_count=2,
        note="Roads counted under the lens; the material is a guess. The date is that of the look, not of the build.",
    )
    service = desk.service(build, 11, 11)
    failure = desk.failure(
        service,
        "Q-048",
        11,
        finder="not known",
        noticed_how="Left in the letter box.",
        as_found="One half, greasy.",
        entered_by="Pim",
    )
    piece = desk.piece(failure, "Q-048/1", 11, description="Half of a round peg", condition="brown grease")
    desk.piece(failure, "Q-048/2", 11, status="missing", description="The other half", where_may_be="not known")
    photo = desk.photo(desk.face(piece, "1, break", 10), "peg", 10)
    desk.answer(failure, SEEN, "Pim", 10)
    desk.draw(photo, OUTLINE, GREASE, 10)
    desk.conclude(failure, 10)
