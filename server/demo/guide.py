"""The brake-rope guide: it rubbed, and said so."""

from server.demo.desk import Answers, Desk

SEEN: Answers = {
    "glossy_patch": ("yes", "oval, scratches all one way"),
    "powder": ("yes", "grey dust on the drum's rim"),
    "bound_before": ("yes", "squeaked since it was fitted"),
    "came_apart": "no",
    "overload_seen": "no",
    "heat_marks": "no",
    "repair_before": "no",
}


def tell(desk: Desk) -> None:
    """Tell of the guide that the drum wore through."""
    part = desk.part(
        170,
        name="Brake-rope guide",
        customer_id=desk.shelf.school,
        fitted_where="Loom 2, beside the warp drum",
        access="hard",
        function="Keeps the brake rope on the warp drum.",
    )
    desk.locked(part, "Rope groove, radius 5 mm", "The rope is given.")
    revision = desk.revision(part, 1, 165, what_changed="First drawing.")
    build = desk.build(
        revision,
        163,
        printer_id=desk.shelf.closed_printer,
        spool_id=desk.shelf.petg_grey,
        nozzle_mm=0.4,
        line_width_mm=0.45,
        layer_height_mm=0.2,
        wall_count=4,
        infill_percent=60,
        nozzle_c=242,
        bed_c=78,
        fan_percent=30,
        orientation="XYZ",
    )
    service = desk.service(
        build,
        162,
        29,
        fit_check="rubs",
        fit_note="touches the drum's rim once a turn; said to wear in",
        highest_c=34,
        loads="Rope pulls sideways, about 15 N.",
    )
    failure = desk.failure(
        service,
        "Q-044",
        29,
        found_place="Loom 2",
        finder="Odile Farrow",
        noticed_how="The rope climbed off the drum.",
        happened_before="Squeaking for months, louder in the last week.",
        load_words="Rubbing of the drum's rim",
        load_direction="along the rim's turning",
        as_found="In one piece, worn flat on one side; grey dust below.",
        also_lost="Brake rope frayed.",
        found_sound="Screw holes.",
        entered_by="Pim",
    )
    piece = desk.piece(failure, "Q-044/1", 29, description="The whole guide")
    photo = desk.photo(desk.face(piece, "side towards the drum", 28, surface="outer"), "guide", 28)
    desk.answer(failure, SEEN, "Pim", 28)
    desk.measure(photo)
    desk.conclude(failure, 27)
    desk.person_says(failure, "interference_rub", "It touched from the first day; see the fit check.", "Pim", 27)
    desk.change(failure, "Take 1.5 mm off the side towards the drum.", "It never had room.", 27)
