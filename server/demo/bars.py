"""The torn bars: the desk tests its orange ASA, has a material of its own, and knows how long others take to get."""

from server.demo.desk import Desk
from server.records import CouponTest, OwnMaterial, Supply

# Force at break of upright bars with a waist of 10 by 4 mm, N. The third was drawn with a gap in a wall.
FORCES_N = (934.0, 971.0, 702.0, 949.0, 962.0, 940.0)


def tell(desk: Desk) -> None:
    """Tell of the desk's own tests and of what can be had."""
    bars = [
        {
            "force_n": force,
            "width_mm": 10.1,
            "thickness_mm": 4.0,
            "note": "gap in the outer wall" if force < 800 else "",
        }
        for force in FORCES_N
    ]
    typed = "\n".join(
        f"{bar['force_n']:g} N, 10.1 x 4.0 mm" + (f"; {bar['note']}" if bar["note"] else "") for bar in bars
    )
    test = CouponTest(
        spool_id=desk.shelf.asa_orange,
        geometry="iso527_1a",
        orientation="upright",
        tested_on=desk.day(150),
        bars=bars,
        typed=typed,
        bonded_low=0.70,
        bonded_high=0.82,
        printed_how="cupboard, nozzle 256 C, chamber 50 C, road 0.45 mm, layer 0.2 mm",
        note="spring scale and jack, slowly; bonded share counted on three of the faces",
        tested_by="The repair desk",
    )
    desk.add(test, 150)
    own = OwnMaterial(
        name="Mill-end PETG",
        designation="PETG",
        kind="amorphous",
        figures={
            "glass_c": [74, 78],
            "hdt_045_c": [68, 72],
            "nozzle_c": [235, 250],
            "dry_c": [60, 65],
            "dry_h": [5, 8],
        },
        ratings={"chem_alcohol": "cracks", "hardened_nozzle": "no"},
        source="sheet in the sack, undated",
        note="bought by the sack from a maker of trays; no two sacks alike",
    )
    desk.add(own, 140)
    for material, days, price in (("pc", 5, 42.0), ("pa12_cf", 8, 85.0), ("pa6_cf", 8, 95.0)):
        desk.add(Supply(material=material, days_to_get=days, price_eur_kg=price, note="by post"))
