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


# Kass and Raftery 1995, J. Am. Stat. Assoc. 90:773, sec. 3.2, by the Bayes factor itself (3, 20, 150). Their column
# of 2 ln B (2, 6, 10) differs slightly at the edges; the factor is the rule here.
KASS_RAFTERY: tuple[tuple[float, str], ...] = (
    (150.0, "very strong"),
    (20.0, "strong"),
    (3.0, "positive"),
    (1.0, "not worth more than a bare mention"),
)


def second_grade(weight_db: float) -> str:
    """The same weight on Kass and Raftery's scale, which asks for more before it says "strong"."""
    # Rounded so that a factor on an edge stays on it in floating point.
    factor = round(10.0 ** (abs(weight_db) / 10.0), 9)
    return next(words for edge, words in KASS_RAFTERY if factor >= edge)


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
