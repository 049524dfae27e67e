"""The skylight knob: nothing has happened to it, and its inspection is overdue."""

from server.demo.desk import Desk


def tell(desk: Desk) -> None:
    """Tell of a part that is simply in use."""
    part = desk.part(
        95,
        name="Skylight stay knob",
        customer_id=desk.shelf.glasshouse,
        fitted_where="Glasshouse, third skylight from the door",
        function="Clamps the stay that holds the skylight open.",
        access="hard",
        can_hurt=True,
        hurt_how="The skylight can fall shut on a hand.",
    )
    desk.locked(part, "Thread insert M6, brass", "The stay's bolt is given.")
    revision = desk.revision(part, 1, 94, what_changed="Taken over from the school's window knobs, wings 4 mm longer.")
    build = desk.build(
        revision,
        92,
        printer_id=desk.shelf.closed_printer,
        spool_id=desk.shelf.asa_orange,
        nozzle_mm=0.4,
        line_width_mm=0.45,
        layer_height_mm=0.2,
        wall_count=5,
        infill_percent=60,
        nozzle_c=256,
        bed_c=100,
        chamber_c=50,
        fan_percent=10,
        orientation="XYZ",
        after_treatment="brass insert pressed in warm",
    )
    desk.place(
        part,
        94,
        highest_c=58,
        highest_typed="58 C",
        agents=["chem_uv"],
        water="humid",
        how_known="thermometer taped to the old knob, the hottest week of last summer",
        entered_by="The repair desk",
    )
    service = desk.service(build, 90, fit_check="works", highest_c=48, chemicals="sun, lime water", loads="Hand-tight.")
    desk.inspection(service, due=30, done=28, result="sound", note="By eye from the ladder.")
    desk.inspection(service, due=4)
