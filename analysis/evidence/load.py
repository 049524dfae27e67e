"""The stated load against the strength of a fully bonded face, as one observation among the others."""

import math
from collections.abc import Sequence

from analysis.evidence.catalogue import Catalogue, load_catalogue
from analysis.evidence.observations import LIMITS, Z90, ObservationRefused, Seen, range_shares

CODE = "load_against_capacity"

# A load that a person states and a strength from a table are never known better than this. Both judgement.
SD_FLOOR = 0.05
SD_WITHOUT_INTERVAL = 0.15


def seen_from_load(
    exceeded: float,
    interval: Sequence[float] | None = None,
    origin: str = "strength",
    catalogue: Catalogue | None = None,
) -> Seen:
    """Observation that follows from the probability that the load exceeded the capacity of a fully bonded face.

    It shares the group of the bonded share, so that a weak weld is not counted once as seen and once as reckoned.

    Parameters
    ----------
    exceeded : float
        That probability, 0 to 1, for the face as designed (every contact welded), not as built.
    interval : pair of float, optional
        Its 90 % interval, from what is not known about load and strength; without one it counts as a rough estimate.
    origin : str
        The caller's reference to where it was reckoned.

    Raises
    ------
    ObservationRefused
        The probability or an end of its interval is not a number from 0 to 1, or the ends are upside down.
    """
    stated = [exceeded, *(interval or ())]
    if not all(math.isfinite(p) and 0.0 <= p <= 1.0 for p in stated):
        raise ObservationRefused(f"{CODE}: {stated} must be probabilities from 0 to 1")
    if interval is not None and (len(interval) != 2 or interval[0] > interval[1]):
        raise ObservationRefused(f"{CODE}: the interval {list(interval)} needs its lower end first")
    sd = SD_WITHOUT_INTERVAL if interval is None else max(SD_FLOOR, (interval[1] - interval[0]) / (2 * Z90))
    entry = (catalogue or load_catalogue()).observations[CODE]
    shares = range_shares(exceeded, sd, entry.edges, *LIMITS[CODE])
    span = "" if interval is None else f" (90 % interval {interval[0]:.0%} to {interval[1]:.0%})"
    words = f"{exceeded:.0%} that the load exceeded it{span}"
    return Seen(CODE, "yes", strength=max(shares), origin=origin, value=words, shares=shares, number=exceeded)
