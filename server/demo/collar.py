"""The winder collar: the program and the person don't agree, and both are kept."""

from server.demo.desk import Answers, Desk

SEEN: Answers = {
    "gaps_mate": ("yes", "the seam side, on both halves"),
    "seam_in_break": "yes",
    "thin_roads": "yes",
    "whitening_patches": "yes",
    "bare_roads_both": ("cant_tell", "black on black, hard to see"),
    "one_layer_plane": "yes",
    "drawn_lips": "no",
    "overload_seen": ("cant_tell", "nobody was in the room"),
}


def tell(desk: Desk) -> None:
    """Tell of the collar that was found in two rings."""
    part = desk.part(
        310,
        name="Bobbin-winder collar",
        customer_id=desk.shelf.ribbon,
        fitted_where="Bobbin winder, spindle end",
        function="Keeps the bobbin from walking off the spindle; turns with it at up to 900 turns a minute.",
        access="easy",
    )
    desk.locked(part, "Bore 5.9 mm", "The spindle is 5.8 mm.")
    revision = desk.revision(part, 1, 300, what_changed="First drawing.")
    build = desk.build(
        revision,
        297,
        printer_id=desk.shelf.closed_printer,
        spool_id=desk.shelf.abs_black,
        nozzle_mm=0.6,
        line_width_mm=0.60,
        layer_height_mm=0.20,
        wall_count=2,
        infill_percent=100,
        nozzle_c=235,
        bed_c=100,
        chamber_c=45,
        fan_percent=10,
        orientation="XYZ",
    )
    service = desk.service(
        build,
        296,
        83,
        fit_check="binds",
        fit_note="tight; pressed on with the palm",
        highest_c=40,
        chemicals="a drop of spindle oil a week",
        loads="Presses against the bobbin; starts and stops with a jerk.",
    )
    failure = desk.failure(
        service,
        "Q-036",
        83,
        found_place="Beside the winder",
        finder="Ansgar Pell",
        noticed_how="Two rings where one had been.",
        happened_before="Not known; the room was empty.",
        load_words="Pressed along the spindle, or knocked off",
        load_direction="along the spindle",
        as_found="Both rings whole, oily at the bore.",
        entered_by="Pim",
        found_sound="Spindle runs true.",
        also_lost="Nothing known.",
    )
    ring = desk.piece(failure, "Q-036/1", 83, description="Outer ring", condition="oil film at the bore")
    desk.piece(failure, "Q-036/2", 83, description="Inner ring; its face was wiped by the finder, so not photographed")
    photo = desk.photo(desk.face(ring, "1, towards the bobbin", 82), "collar", 82)
    desk.answer(failure, SEEN, "Pim", 82)
    desk.measure(photo)
    program = desk.conclude(failure, 81)
    # Whatever the program says, Pell holds on to a knock: the story is about keeping both.
    if program.primary != "overload":
        desk.person_says(
            failure,
            "overload",
            "Pell found the winder pushed against the wall with a dent in the board; I think it was knocked.",
            "Pim",
            80,
        )
    desk.change(
        failure,
        "Seam to the back of each layer in turn; walls three; collar pressed on with a sleeve, not a palm.",
        "Whoever is right, the break ran where every layer begins and ends.",
        80,
    )
