"""How much a printed part grows by heat and by water: what a clearance must leave room for."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Growth:
    """Growth of one length, mm, as a range (low, high), with where the figures come from."""

    heat_mm: tuple[float, float]
    water_mm: tuple[float, float]
    source: str

    @property
    def most_mm(self) -> float:
        """Both together at their upper ends."""
        return self.heat_mm[1] + self.water_mm[1]


# Linear expansion per kelvin and moisture swelling by family, along the roads and up the layers. Faust et al. 2021,
# Polymers 13:3637 measured polyamides; other families have no figure here and get none.
SOURCE = "Faust et al. 2021, Polymers 13:3637"
PER_KELVIN = {
    ("PA", False, "along"): (11.4e-5, 17.5e-5),
    ("PA", False, "up"): (11.4e-5, 17.5e-5),
    ("PA", True, "along"): (2.2e-5, 2.2e-5),
    ("PA", True, "up"): (24.8e-5, 24.8e-5),
}
WATER = {"PA": (0.005, 0.015)}  # share of the length; most of it in height


def thermal_growth_mm(length_mm: float, rise_k: float, per_kelvin: float) -> float:
    """Growth of a length by a rise in temperature, mm (negative when it cools)."""
    return length_mm * rise_k * per_kelvin


def growth(family: str, fibre_filled: bool, direction: str, length_mm: float, rise_k: float) -> Growth | None:
    """Growth of `length_mm` by `rise_k` kelvin and by water; None where no figure is known for the family.

    `direction` is "along" (the roads) or "up" (through the layers). Raises ValueError for any other, and for a
    length that is not above 0.
    """
    if direction not in ("along", "up"):
        raise ValueError(f"direction is along or up, not {direction!r}")
    if not length_mm > 0:
        raise ValueError(f"a length must be above 0 mm, not {length_mm}")
    rates = PER_KELVIN.get((family, fibre_filled, direction))
    if rates is None:
        return None
    low, high = (thermal_growth_mm(length_mm, rise_k, rate) for rate in rates)
    water = WATER.get(family, (0.0, 0.0))
    return Growth((min(low, high), max(low, high)), (length_mm * water[0], length_mm * water[1]), SOURCE)
