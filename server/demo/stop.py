"""The shuttle-box stop: sound welds, too hard a blow."""

from server.demo.desk import Answers, Desk

SEEN: Answers = {
    "whitening_most": ("yes", "pale and hairy all over"),
    "bare_roads_both": "no",
    "several_planes": "yes",
    "roads_crossed": "yes",
    "drawn_lips": ("yes", "along the upper rim"),
    "overload_seen": ("yes", "Farrow saw the shuttle thrown against it"),
    "ordinary_load": "no",
    "thin_roads": "no",
}


def tell(desk: Desk) -> None:
    """Tell of the stop that a visitor broke with one throw."""
    part = desk.part(
        190,
        name="Shuttle-box stop",
        customer_id=desk.shelf.school,
        fitted_where="Loom 1, right shuttle box",
        access="easy",
        function="Stops the shuttle at the end of its run.",
    )
    desk.locked(part, "Face towards the shuttle, 14 x 8 mm", "The shuttle's tip has to meet it in the middle.")
    revision = desk.revision(part, 1, 186, what_changed="First drawing, after the worn leather one.")
    build = desk.build(
        revision,
        185,
        printer_id=desk.shelf.open_printer,
        spool_id=desk.shelf.pla_blue,
        nozzle_mm=0.4,
        line_width_mm=0.48,
        layer_height_mm=0.2,
        wall_count=2,
        infill_percent=50,
        nozzle_c=212,
        bed_c=58,
        fan_percent=60,
        orientation="XYZ",
    )
    service = desk.service(
        build,
        184,
        47,
        fit_check="works",
        highest_c=30,
        loads="The shuttle, about 280 g, arrives some 30 times a minute.",
    )
    desk.inspection(service, due=120, done=121, result="worn", note="A dimple where the tip meets it; no crack.")
    failure = desk.failure(
        service,
        "Q-041",
        47,
        found_place="Shuttle box",
        finder="Odile Farrow",
        noticed_how="A crack, and the shuttle on the floor.",
        happened_before="Open day; a visitor threw the shuttle with all his might.",
        load_words="One hard blow",
        load_direction="along the shuttle's run",
        as_found="Two pieces, fresh, clean.",
        also_lost="Tip of the shuttle blunted.",
        found_sound="Screws and box.",
        entered_by="Runa",
    )
    piece = desk.piece(failure, "Q-041/1", 47, description="The half that stayed screwed on")
    desk.piece(
        failure, "Q-041/2", 47, status="missing", description="The other half", where_may_be="swept up on the open day"
    )
    face = desk.face(piece, "1, break", 46)
    photo = desk.photo(face, "stop", 46)
    desk.answer(failure, SEEN, "Runa", 46)
    desk.measure(photo)
    desk.load(
        failure,
        face,
        "The thrown shuttle",
        46,
        force_n=(150, 900),
        action="bend",
        tilt_deg=90,
        azimuth_deg=270.0,
        azimuth_typed="12:00",
        reach_mm=(5, 9),
        entered_by="Runa",
        how_known="Reckoned: 280 g at 4 to 6 m/s, stopped within 5 to 15 mm; speed and way are guesses.",
    )
    desk.weld(failure, "Runa", 46)
    desk.conclude(failure, 45)
    desk.person_says(failure, "overload", "Seen to happen; the face is torn all over.", "Runa", 45)
    desk.change(
        failure,
        "A leather pad in front, infill 100 %.",
        "The welds held; the blow was too much for half-full walls.",
        45,
    )
