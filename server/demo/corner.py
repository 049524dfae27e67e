"""The frame corner: three revisions after the original, two failures, now in use again."""

from server.demo.desk import Answers, Desk
from server.records import Failure, Part


def tell(desk: Desk) -> None:
    """Tell the whole story, from the cast original to the corner in use."""
    part = desk.part(
        335,
        name="Heddle-frame corner",
        customer_id=desk.shelf.school,
        fitted_where="Floor loom 3, shaft 2, front left",
        function="Holds two bars of the heddle frame square and takes the pull of the lifting cord.",
        access="awkward",
        note="Farrow pays by the term; send the bill with the others.",
    )
    desk.locked(part, "Slot 12.2 mm for the bar", "The bars of all eight frames are the same.")
    desk.locked(part, "Height of the cord hole over the bar, 31 mm", "All shafts have to lift to one height.")
    desk.revision(part, 0, None, is_original=True, what_changed="Cast metal corner, broken years ago and lost.")
    first = _first_breaks(desk, part)
    second = _second_breaks(desk, part, first)
    _third_holds(desk, part, second)


def _first_breaks(desk: Desk, part: Part) -> Failure:
    revision = desk.revision(
        part, 1, 330, what_changed="Drawn after the corner of shaft 3.", why="No drawing was left."
    )
    build = desk.build(
        revision,
        328,
        printer_id=desk.shelf.open_printer,
        spool_id=desk.shelf.pla_black,
        nozzle_mm=0.4,
        line_width_mm=0.40,
        layer_height_mm=0.15,
        wall_count=3,
        infill_percent=100,
        nozzle_c=195,
        bed_c=55,
        fan_percent=100,
        orientation="ZXY",
        note="Stood upright to save the supports.",
    )
    loads = "Cord pulls upward, about 40 N at each treadle stroke, some 900 strokes a day."
    service = desk.service(build, 326, 261, fit_check="works", highest_c=31, loads=loads)
    failure = desk.failure(
        service,
        "Q-014",
        261,
        found_place="Under loom 3",
        finder="Odile Farrow",
        noticed_how="The shaft hung askew and a shed stayed closed.",
        happened_before="An ordinary morning of plain weave; the window stood open overnight.",
        load_words="The pull of the lifting cord",
        load_direction="along the longest side, upward",
        as_found="Two pieces, dry, a little lint; the break flat and at right angles to the cord.",
        also_lost="Nothing.",
        found_sound="Slot, cord hole and the bar ends: no damage seen.",
        entered_by="Runa",
    )
    piece = desk.piece(failure, "Q-014/1", 261, description="Lower half with the slot", collector="Odile Farrow")
    desk.piece(failure, "Q-014/2", 261, description="Upper half with the cord hole; face too oily to photograph")
    face = desk.face(piece, "1, looking up", 260)
    photo = desk.photo(face, "corner-1", 260)
    desk.answer(failure, _SEEN_FIRST, "Runa", 260)
    desk.measure(photo)
    desk.load(
        failure,
        face,
        "The pull of the lifting cord",
        260,
        force_n=(30, 60),
        action="pull",
        tilt_deg=0,
        offset_right_mm=2.0,
        how_known="A spring balance at the treadle showed 40 N; it varies with the foot.",
        entered_by="Runa",
    )
    desk.load(
        failure,
        face,
        "The cord snatching when a foot slips",
        260,
        force_n=(80, 200),
        action="pull",
        tilt_deg=0,
        offset_right_mm=2.0,
        how_known="A guess: two to five times the pull.",
        entered_by="Runa",
    )
    desk.weld(failure, "Runa", 260)
    desk.conclude(failure, 259)
    desk.person_says(failure, "layer_delamination", "Same as I see under the lens.", "Runa", 259)
    return failure


_SEEN_FIRST: Answers = {
    "bare_roads_both": ("yes", "smooth shiny roads, most of the face"),
    "one_layer_plane": "yes",
    "whitening_most": "no",
    "whitening_patches": "yes",
    "drawn_lips": "no",
    "overload_seen": "no",
    "ordinary_load": "yes",
    "load_across_layers": ("yes", "cord along Z of the build"),
    "thin_roads": "no",
}


def _second_breaks(desk: Desk, part: Part, first: Failure) -> Failure:
    revision = desk.revision(
        part,
        2,
        255,
        what_changed="Filled material; lies on its side, so the cord pulls along the roads; fillet 2 mm inside.",
        why="Revision 1 came apart between two layers.",
    )
    desk.change(
        first,
        "Lay it on its side, nozzle as hot as the spool allows, fan below a third.",
        "The layers hardly held one another, and the cord pulled them apart.",
        258,
        revision,
    )
    build = desk.build(
        revision,
        250,
        printer_id=desk.shelf.closed_printer,
        spool_id=desk.shelf.petg_filled,
        nozzle_mm=0.4,
        line_width_mm=0.48,
        layer_height_mm=0.12,
        wall_count=3,
        infill_percent=100,
        nozzle_c=245,
        bed_c=75,
        chamber_c=40,
        fan_percent=25,
        orientation="XZY",
        note="Some crackling at the nozzle towards the end.",
    )
    desk.chose(
        first,
        ("orientation",),
        build,
        251,
        first_look=190,
        reason="The cord then pulls along the roads, and nothing outside has to change.",
        chosen_by="Runa",
    )
    loads = "As before: about 40 N upward, some 900 strokes a day."
    service = desk.service(build, 249, 118, fit_check="works", highest_c=33, loads=loads)
    desk.inspection(service, due=190, done=188, result="sound", note="Lens, both sides: nothing seen.")
    failure = desk.failure(
        service,
        "Q-031",
        118,
        found_place="Loom 3, still hanging by the cord",
        finder="a pupil, told to Farrow",
        noticed_how="The frame rattled for an afternoon, then the corner opened.",
        happened_before="Rattling since noon; nobody stopped the loom.",
        load_words="The pull of the lifting cord",
        load_direction="along the second side",
        load_n=40,
        as_found="Halves held together by the cord; dust in the break.",
        also_lost="One heddle bent.",
        found_sound="Bar ends and cord.",
        entered_by="Pim",
    )
    upper = desk.piece(failure, "Q-031/1", 118, description="Half with the cord hole", collector="Pim")
    lower = desk.piece(failure, "Q-031/2", 118, description="Half with the slot", collector="Pim")
    site = desk.site(
        failure, "inner corner", 117, sequence="first", how_known="The only break.", load_words="opened by the cord"
    )
    face = desk.face(upper, "1, cord side", 117, site)
    mate = desk.face(lower, "2, slot side", 117, site, mate=face)
    photo, other = desk.photo(face, "corner-2a", 117), desk.photo(mate, "corner-2b", 117)
    desk.brushed(upper, 116, by="Pim")
    desk.answer(failure, _SEEN_SECOND, "Pim", 117)
    desk.measure(photo, mate=other)
    desk.measure(other, mate=photo)
    desk.load(
        failure,
        face,
        "The cord opening the corner",
        116,
        force_n=(30, 60),
        action="bend",
        tilt_deg=90,
        azimuth_deg=270.0,
        azimuth_typed="12:00",
        reach_mm=(18, 31),
        entered_by="Pim",
        how_known="The pull as before; between the cord hole and the inner corner lie 31 mm at most.",
    )
    # The table has no filled one, so somebody had to say.
    desk.weld(
        failure,
        "Pim",
        116,
        strength=(8, 22),
        origin="judgement",
        how_known="As plain PETG, a little less: fibres in it.",
    )
    desk.conclude(failure, 116)
    desk.person_says(failure, "under_extrusion", "The wall is not there on either half.", "Pim", 116)
    return failure


_SEEN_SECOND: Answers = {
    "gaps_mate": ("yes", "same stretch of the outer wall on both halves"),
    "thin_roads": "yes",
    "bare_roads_both": "no",
    "whitening_patches": "yes",
    "drawn_lips": "no",
    "overload_seen": "no",
    "ordinary_load": "yes",
    "wet_filament": ("yes", "small pits in the cut ends"),
    "sharp_corner_origin": "cant_tell",
}


def _third_holds(desk: Desk, part: Part, second: Failure) -> None:
    revision = desk.revision(
        part,
        3,
        110,
        what_changed="Five walls, inside fillet 3 mm, wider nozzle for the filled material.",
        why="Revision 2 had missing stretches in its walls.",
    )
    desk.change(
        second,
        "Dry the spool before the build; nozzle 0.6 mm; weigh the part against the slicer's figure.",
        "Stretches of the outer wall were never laid.",
        115,
        revision,
    )
    desk.summarise(second, 114)
    build = desk.build(
        revision,
        106,
        printer_id=desk.shelf.closed_printer,
        spool_id=desk.shelf.petg_filled,
        nozzle_mm=0.6,
        line_width_mm=0.62,
        layer_height_mm=0.2,
        wall_count=5,
        infill_percent=100,
        nozzle_c=250,
        bed_c=75,
        chamber_c=45,
        fan_percent=20,
        orientation="XZY",
        after_treatment="none",
        note="Spool dried 70 C, 8 h the day before.",
    )
    desk.chose(
        second,
        ("wider_roads", "flow"),
        build,
        108,
        first_look=70,
        reason="The walls have to be there before anything else can be judged.",
        chosen_by="Pim",
    )
    loads = "As before: about 40 N upward, some 900 strokes a day."
    service = desk.service(build, 105, fit_check="works", highest_c=32, loads=loads)
    desk.inspection(service, due=75, done=74, result="sound", note="Lens, both sides: no crack, no gap seen.")
    desk.inspection(service, due=-9)
