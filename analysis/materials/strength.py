"""What a material carries across its layers: on an upright bar's gross section, and on the area that is bonded.

The two must not be mixed. A test on an upright bar divides the force by the outside section, whose voids carry
nothing; a fracture face on which the bonded area was measured needs the strength of the interface itself, which is
higher by about the share that was bonded. Perez et al. 2021 give both for PLA (22.8 and 33.75 MPa), and Allum et al.
2020 find PLA close to its bulk strength when the true area is counted.

All ranges are meant to hold 90 of 100 ordinary prints; that they do is judgement.
"""

import math

from analysis.materials.library import Figure, Library, Material, load_library

Span = tuple[float, float]
ROOM_C = 23.0
# How strength falls with heat, both ends by judgement from data sheets' curves (no source read):
AMORPHOUS_LEAST_LOSS = 0.6  # the slow end still loses this share on the way to the glass transition
CRYSTAL_POWERS = (2.5, 1.0)  # strength as ((Tm - T) / (Tm - 23))^power: fast and slow end


def combine(first: Span, second: Span, divide: bool = False) -> Span:
    """Return the range of a product (or quotient) of two independent positive ranges of equal coverage.

    Half-widths are added in quadrature of their logarithms, as for two log-normal quantities (GUM, 5.1.6, for
    products): narrower than multiplying the ends, which would ask both to be at their worst at once.
    """
    sign = -1.0 if divide else 1.0
    middle = sum(map(math.log, first)) / 2 + sign * sum(map(math.log, second)) / 2
    half = math.hypot(math.log(first[1] / first[0]) / 2, math.log(second[1] / second[0]) / 2)
    return math.exp(middle - half), math.exp(middle + half)


def upright_gross_mpa(material: Material) -> Span | None:
    """Return the strength of an upright bar on its outside section (MPa), None where a figure for it is missing."""
    flat, ratio = material.figure("in_plane_mpa"), material.figure("z_ratio")
    return combine(_span(flat), _span(ratio)) if flat and ratio else None


def interface_mpa(material: Material, library: Library | None = None) -> Span | None:
    """Return the strength of the bonded area between layers (MPa) at room temperature, None where not known.

    The gross strength over the bonded share of an upright bar; never above the strength of the flat bar, for a weld
    isn't stronger than what it is made of.
    """
    gross, flat = upright_gross_mpa(material), material.figure("in_plane_mpa")
    if gross is None or flat is None:
        return None
    low, high = combine(gross, _span((library or load_library()).bonded_share), divide=True)
    return min(low, flat.low), min(high, flat.high)


def heat_factor(material: Material, temperature_c: float) -> tuple[Span | None, str]:
    """Return what share of its strength at 23 °C a material keeps at `temperature_c` (°C), and the rule used.

    None where it softens or where the temperature that rules it is not known. Below 23 °C nothing is added. For
    amorphous polymers the strength falls about linearly towards the glass transition, for semicrystalline ones
    towards melting; both rules are judgement.
    """
    if temperature_c <= ROOM_C:
        return (1.0, 1.0), "no gain is counted below 23 °C"
    if material.kind == "amorphous" and (glass := material.figure("glass_c")):
        return _amorphous(glass, temperature_c)
    if material.kind == "semicrystalline" and (melting := material.figure("melting_c")):
        left = (melting.low - temperature_c) / (melting.low - ROOM_C)
        if left <= 0:
            return None, f"{temperature_c:g} °C is at or above its melting point ({melting.low:g} °C)"
        fast, slow = (left**power for power in CRYSTAL_POWERS)
        return (fast, slow), f"less at {temperature_c:g} °C, falling towards melting at {melting.low:g} °C (judgement)"
    return None, "how its strength falls with heat is not known"


def _amorphous(glass: Figure, temperature_c: float) -> tuple[Span | None, str]:
    if temperature_c >= glass.low:
        return (
            None,
            f"at {temperature_c:g} °C it softens: its glass transition lies at {glass.low:g} to {glass.high:g} °C",
        )
    fast = (glass.low - temperature_c) / (glass.low - ROOM_C)
    slow = 1 - AMORPHOUS_LEAST_LOSS * (temperature_c - ROOM_C) / (glass.high - ROOM_C)
    rule = f"less at {temperature_c:g} °C, falling towards its glass transition at {glass.low:g} °C (judgement)"
    return (fast, slow), rule


def interlayer_mpa(code: str, temperature_c: float | None = None) -> tuple[Span | None, str]:
    """Return the strength of the bonded area between layers of material `code`, and the reason for it.

    Parameters
    ----------
    code : a material's code in the table, such as "petg"
    temperature_c : temperature of the part (°C) when it broke; None takes the figures at 23 °C and says so

    Returns
    -------
    (low, high) in MPa, meant to hold 90 of 100 ordinary prints, or None; and what it rests on or why it is missing.
    Use it on a bonded area, never on a gross section. An unknown code is None too.
    """
    library = load_library()
    material = library.materials.get(code)
    if material is None:
        return None, "this material isn't in the table"
    cold = interface_mpa(material, library)
    if cold is None:
        return None, f"how strong {material.words} is across its layers is not known; test upright bars of the spool"
    reason = f"{material.words}: {_basis(material, library)}"
    if temperature_c is None:
        return cold, f"{reason}; temperature not given, figures at 23 °C"
    factor, rule = heat_factor(material, temperature_c)
    if factor is None:
        return None, f"{material.words}: {rule}"
    return combine(cold, factor), f"{reason}; {rule}"


def _basis(material: Material, library: Library) -> str:
    names = ("in_plane_mpa", "z_ratio")
    used = [figure for name in names if (figure := material.figure(name))] + [library.bonded_share]
    weak = [one.source.status for one in used if one.source.status != "read"]
    words = "strength of flat bars × upright over flat ÷ bonded share"
    return f"{words} ({len(weak)} of {len(used)} figures from memory, judgement or reported)" if weak else words


def _span(figure: Figure) -> Span:
    return figure.low, figure.high
