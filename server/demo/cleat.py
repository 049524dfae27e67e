"""The treadle cleat: hardly any of its layers held."""

from server.demo.desk import Answers, Desk

SEEN: Answers = {
    "bare_roads_both": ("yes", "roads as laid, on both halves"),
    "whitening_most": "no",
    "whitening_patches": ("yes", "a few small spots"),
    "drawn_lips": "no",
    "overload_seen": "no",
    "ordinary_load": "yes",
    "load_across_layers": "yes",
    "thin_roads": "no",
    "gaps_mate": "no",
}


def tell(desk: Desk) -> None:
    """Tell of the cleat that let go under an everyday tread."""
    part = desk.part(
        200,
        name="Treadle cleat",
        customer_id=desk.shelf.school,
        fitted_where="Floor loom 5, treadle 4",
        access="easy",
        function="Holds the knot of the tie-up cord under the treadle.",
    )
    desk.locked(part, "Two holes for 4 mm screws, 11 mm apart", "The treadle is drilled already.")
    revision = desk.revision(part, 1, 199, what_changed="First drawing.", why="The wooden one had split.")
    build = desk.build(
        revision,
        198,
        printer_id=desk.shelf.open_printer,
        spool_id=desk.shelf.petg_orange,
        nozzle_mm=0.8,
        line_width_mm=0.80,
        layer_height_mm=0.12,
        wall_count=4,
        infill_percent=100,
        nozzle_c=222,
        bed_c=70,
        fan_percent=100,
        orientation="ZYX",
        note="Fan left at full from the job before.",
    )
    service = desk.service(build, 197, 150, fit_check="works", highest_c=29, loads="About 60 N downward at each tread.")
    failure = desk.failure(
        service,
        "Q-024",
        150,
        found_place="Under the treadle",
        finder="Ansgar Pell",
        noticed_how="The treadle went down empty.",
        happened_before="Weaving as on any day.",
        load_words="The pull of the tie-up cord",
        load_direction="downward, away from the screws",
        as_found="The cleat's head on the floor, its foot still screwed on. Dry.",
        also_lost="Nothing.",
        found_sound="Cord and screws.",
        entered_by="Runa",
    )
    head = desk.piece(failure, "Q-024/head", 150, description="Head with the cord's groove", where_found="On the floor")
    foot = desk.piece(failure, "Q-024/foot", 150, description="Foot with both screw holes")
    face = desk.face(head, "head, underside", 149)
    mate = desk.face(foot, "foot, top", 149, mate=face)
    photo, other = desk.photo(face, "cleat-a", 149), desk.photo(mate, "cleat-b", 149)
    desk.answer(failure, SEEN, "Runa", 149)
    desk.measure(photo, mate=other)
    desk.measure(other, mate=photo)
    desk.conclude(failure, 148)
    desk.person_says(failure, "layer_delamination", "The fan was at full and the face is nearly bare.", "Runa", 148)
    desk.change(
        failure,
        "Fan off but for the first bridge, nozzle 20 C hotter, thicker layers.",
        "Less than a tenth of the contact looks torn; the rest only lay there.",
        147,
    )
