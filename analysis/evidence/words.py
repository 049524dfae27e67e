"""Words for a weight of evidence, on a published scale, so that nobody invents their own adjectives."""

SCALE_NAME = "Jeffreys' grades"
SCALE_SOURCE = "Jeffreys, Theory of Probability, 3rd ed. 1961, appendix B"

# Lower edge of each grade in decibans: 10 log10 of the factor, so half a unit of log10 is 5 dB.
GRADES: tuple[tuple[float, str], ...] = (
    (20.0, "decisive"),
    (15.0, "very strong"),
    (10.0, "strong"),
    (5.0, "substantial"),
    (0.0, "barely worth mentioning"),
)


def grade(weight_db: float) -> str:
    """Grade of a weight by its size alone; a weight on an edge belongs to the higher grade.

    Parameters
    ----------
    weight_db : float
        Weight of evidence in decibans, either sign.
    """
    size = abs(weight_db)
    return next(words for edge, words in GRADES if size >= edge)


def share_words(probability: float) -> str:
    """A probability as a whole percentage, but never as 0 % or 100 %: nothing weighed here is certain."""
    return "under 1%" if probability < 0.005 else "over 99%" if probability > 0.995 else f"{probability:.0%}"


def graded(weight_db: float) -> str:
    """The grade with its direction, for a line of text: "strong, for" or "substantial, against"."""
    return f"{grade(weight_db)}, {'for' if weight_db >= 0 else 'against'}"
