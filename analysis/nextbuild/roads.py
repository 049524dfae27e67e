"""The section of a printed road and what narrower, wider or thinner roads do to the contact between layers.

Model: a rectangle with half-round ends, as programs that slice for material extrusion reckon flow. It says nothing
about how well a contact heals, only how wide it is.
"""

import math

LONGEST_HEALING = 1.0  # a weld doesn't grow stronger than the polymer by waiting longer


def section_area_mm2(width_mm: float, layer_height_mm: float) -> float:
    """Area of a road's section, mm²: (w - h) h + pi h² / 4.

    Raises ValueError where the road is narrower than it is high, or a size is not above 0.
    """
    _check(width_mm, layer_height_mm)
    return (width_mm - layer_height_mm) * layer_height_mm + math.pi * layer_height_mm**2 / 4


def pitch_mm(width_mm: float, layer_height_mm: float) -> float:
    """Distance of roads that touch over their whole height on average: w - h (1 - pi / 4)."""
    _check(width_mm, layer_height_mm)
    return width_mm - layer_height_mm * (1 - math.pi / 4)


def flat_contact_mm(width_mm: float, layer_height_mm: float) -> float:
    """Width of the flat that one road offers to the road above: w - h, never below 0."""
    _check(width_mm, layer_height_mm)
    return width_mm - layer_height_mm


def width_at_flow_mm(width_mm: float, layer_height_mm: float, flow: float) -> float:
    """Width of the road when only the share `flow` of the asked-for material comes out, the height being kept.

    Raises ValueError where flow is not above 0. The road can end up narrower than its height; it is then no longer
    flat at all, and the height is returned.
    """
    if not flow > 0:
        raise ValueError(f"flow must be above 0, not {flow}")
    area = flow * section_area_mm2(width_mm, layer_height_mm)
    return max(layer_height_mm, area / layer_height_mm + layer_height_mm * (1 - math.pi / 4))


def side_gap_mm(width_mm: float, layer_height_mm: float, flow: float) -> float:
    """Gap between neighbouring roads at the pitch of full flow, mm; negative where they still overlap."""
    return pitch_mm(width_mm, layer_height_mm) - width_at_flow_mm(width_mm, layer_height_mm, flow)


def contact_gain(before: tuple[float, float], after: tuple[float, float]) -> float:
    """How many times the share of flat contact grows from one (width, layer height) in mm to another.

    Each set of roads lies at its own pitch.
    """
    shares = [flat_contact_mm(w, h) / pitch_mm(w, h) for w, h in (before, after)]
    if shares[0] <= 0:
        raise ValueError("the present roads are as high as they are wide: they offer no flat contact to compare with")
    return shares[1] / shares[0]


def healed_share(time_over_reptation: float) -> float:
    """Strength of a weld over the polymer's own after a time, as a share: (t / t_rep)^(1/4), at most 1.

    Source: Wool and O'Connor 1981, J. Appl. Phys. 52:5953 (from memory).
    """
    if not time_over_reptation >= 0:
        raise ValueError(f"a time can't be {time_over_reptation}")
    return min(LONGEST_HEALING, math.pow(time_over_reptation, 0.25))


def _check(width_mm: float, layer_height_mm: float) -> None:
    if not 0 < layer_height_mm <= width_mm:
        raise ValueError(f"a road {width_mm} mm wide and {layer_height_mm} mm high has no such section")
