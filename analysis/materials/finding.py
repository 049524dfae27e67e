"""Finds the table's material for what stands on a spool's label."""

import re

from analysis.materials.designation import Designation, decode
from analysis.materials.library import Library, load_library

TPU_SHORE_A = (85, 98)  # what the table's TPU figures stand for


def find_material(text: str, library: Library | None = None) -> tuple[str | None, str]:
    """Return the code of the material that a label means, or None, and the reason.

    A material is only found where polymer and filler are read whole: an unnamed polyamide or an unread filler finds
    none, for its figures could be anybody's. Shares of filler, colours and trade words don't hinder.
    """
    library = library or load_library()
    read = decode(text)
    if not read.polymers:
        return None, f"no polymer that is known here is named in “{text.strip()[:60]}”"
    if read.polymers == ("PA",):
        return None, "PA without its number: PA6 and PA12 differ too widely to take either’s figures"
    if read.shore and not _usual_hardness(read):
        return None, f"the table’s figures are for {TPU_SHORE_A[0]} to {TPU_SHORE_A[1]} Shore A, not {read.shore}"
    for code, material in library.materials.items():
        if _key(decode(material.decodes)) == _key(read):
            return code, material.words if material.words == read.plain else f"{read.plain}: {material.words}"
    return None, f"{read.plain} isn’t in the table; enter its own figures or test bars of the spool"


def _key(read: Designation) -> tuple[frozenset[str], frozenset[str]]:
    return frozenset(read.polymers), frozenset(filler.symbol for filler in read.fillers)


def _usual_hardness(read: Designation) -> bool:
    match = re.fullmatch(r"(\d\d) Shore A", read.shore)
    return match is not None and TPU_SHORE_A[0] <= int(match[1]) <= TPU_SHORE_A[1]
