"""The invented desk's customers, printers and spools."""

from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from server.records import Customer, Printer, Spool


@dataclass(frozen=True)
class Shelf:
    """Keys of what the stories refer to."""

    school: int
    ribbon: int
    glasshouse: int
    open_printer: int
    closed_printer: int
    pla_black: int
    pla_blue: int
    pla_natural: int
    petg_orange: int
    petg_grey: int
    petg_filled: int
    asa_orange: int
    abs_black: int


def stock(session: Session, today: date) -> Shelf:
    """Add customers, printers and spools and return their keys."""

    def day(days_ago: int) -> date:
        return today - timedelta(days=days_ago)

    rows: dict[str, Customer | Printer | Spool] = {
        "school": Customer(name="Quillbeck weaving school", contact="the loom room, Odile Farrow"),
        "ribbon": Customer(name="Ansgar Pell, ribbon weaver", contact="calls in on Thursdays"),
        "glasshouse": Customer(name="Quillbeck glasshouse society", contact="Merel Duchamp-Ott"),
        "open_printer": Printer(name="Left bench", enclosed=False, nozzle_max_c=260, note="by the window; draughty"),
        "closed_printer": Printer(name="Cupboard", enclosed=True, nozzle_max_c=300, chamber_max_c=55),
        "pla_black": Spool(material="PLA", colour="black", lot="B-114", opened_on=day(380)),
        "pla_blue": Spool(material="PLA", colour="blue", lot="B-131", opened_on=day(230)),
        "pla_natural": Spool(material="PLA", colour="natural", lot="B-090", opened_on=day(700), note="label half gone"),
        "petg_orange": Spool(
            material="PETG", colour="orange", lot="G-27", opened_on=day(210), dried_on=day(209), dried_how="65 C, 6 h"
        ),
        "petg_grey": Spool(material="PETG", colour="dark grey", lot="G-31", opened_on=day(190)),
        "petg_filled": Spool(
            material="PETG, carbon-fibre filled", colour="black, matt", lot="GF-3", opened_on=day(270), note="not dried"
        ),
        "asa_orange": Spool(
            material="ASA", colour="orange", lot="A-8", opened_on=day(160), dried_on=day(158), dried_how="80 C, 5 h"
        ),
        "abs_black": Spool(material="ABS", colour="black", lot="S-5", opened_on=day(300)),
    }
    session.add_all(rows.values())
    session.flush()
    return Shelf(**{name: row.id for name, row in rows.items() if row.id is not None})
