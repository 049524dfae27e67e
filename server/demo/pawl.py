"""The hoist pawl: its failure can hurt someone, and a piece of it is missing."""

from server.demo.desk import Answers, Desk

SEEN: Answers = {
    "whitening_most": ("yes", "pale over nearly the whole face"),
    "bare_roads_both": "no",
    "drawn_lips": "yes",
    "roads_crossed": "yes",
    "overload_seen": ("yes", "two beams were lifted at once"),
    "ordinary_load": "no",
    "thin_roads": "no",
    "sharp_corner_origin": ("yes", "root of the tooth"),
}


def tell(desk: Desk) -> None:
    """Tell of the pawl that should never have been printed, and what was done about it."""
    part = desk.part(
        140,
        name="Beam-hoist pawl",
        customer_id=desk.shelf.school,
        fitted_where="Hand hoist over looms 1 to 4",
        access="awkward",
        function="Catches the hoist's ratchet, so that a warp beam stays up when the crank is let go.",
        can_hurt=True,
        hurt_how="A beam of 35 kg can come down on whoever stands below.",
        note="Told Farrow on the telephone to lock the hoist the same hour.",
    )
    desk.locked(part, "Tooth angle and pivot 8 mm", "The ratchet wheel is given.")
    revision = desk.revision(
        part, 1, 139, what_changed="Copied from the worn one by the school itself.", why="Brought in as it was."
    )
    build = desk.build(
        revision,
        138,
        spool_id=desk.shelf.asa_orange,
        nozzle_mm=0.5,
        line_width_mm=0.50,
        layer_height_mm=0.3,
        wall_count=5,
        infill_percent=25,
        nozzle_c=255,
        bed_c=100,
        orientation="XYZ",
        note="As the school remembers it.",
    )
    service = desk.service(build, 137, 17, fit_check="works", loads="Holds one beam, about 350 N at the tooth.")
    failure = desk.failure(
        service,
        "Q-047",
        17,
        found_place="Below the hoist",
        finder="Odile Farrow",
        noticed_how="A bang; the crank spun.",
        happened_before="Two beams were hung on it at once to save a trip.",
        load_words="Two beams instead of one",
        load_direction="across the tooth",
        load_n=700,
        as_found="Broken at the root of the tooth; fresh, clean.",
        also_lost="One beam end chipped. Nobody stood below.",
        found_sound="Ratchet wheel and pivot, by eye only.",
        entered_by="Runa",
    )
    body = desk.piece(failure, "Q-047/body", 17, description="Body with the pivot hole")
    tooth = desk.piece(failure, "Q-047/tooth", 17, description="Larger part of the tooth", where_found="On the floor")
    desk.piece(
        failure,
        "Q-047/tip",
        17,
        status="missing",
        description="Tip of the tooth, about 5 mm",
        where_may_be="inside the hoist, between ratchet and cheek",
        can_harm=True,
        harm_how="the ratchet, so that it doesn't catch",
    )
    root = desk.site(failure, "root of the tooth", 16, sequence="unknown", load_words="bent by the wheel")
    desk.site(failure, "tip of the tooth", 16, sequence="unknown", load_words="chipped, or torn off while slipping")
    face = desk.face(body, "body, root", 16, root)
    mate = desk.face(tooth, "tooth, root", 16, root, mate=face)
    photo, other = desk.photo(face, "pawl-a", 16), desk.photo(mate, "pawl-b", 16)
    desk.answer(failure, SEEN, "Runa", 16)
    desk.measure(photo, mate=other)
    desk.measure(other, mate=photo)
    desk.conclude(failure, 15)
    desk.person_says(
        failure,
        "overload",
        "Twice its load, and the face torn all over. Which site went first I can't tell.",
        "Runa",
        15,
    )
    desk.change(
        failure,
        "None is printed again: the school orders a steel pawl from the hoist's maker.",
        "People stand below it. That is not ours to judge.",
        15,
    )
    desk.summarise(failure, 14)
