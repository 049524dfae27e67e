"""What is said wherever a verdict is shown, so that it is never read as a clearance."""

ALWAYS = (
    "This verdict says what the broken part shows. It does not say that a mended or reprinted part will hold.",
    "It rests on the observations listed and on stated weights; more or other observations can change it.",
)

CAN_HURT = (
    "Someone can be hurt if this part fails: take it out of use, and keep it and every fragment as found.",
    "Have the part, its mounting and any replacement judged by a licensed professional under the rules that apply "
    "where it is used. Where those rules and this page differ, the rules hold.",
    "Do not fit a printed replacement on the strength of this page alone.",
)


def cautions(can_hurt: bool) -> list[str]:
    """Sentences for the screen, the verdict and the summary; the grave ones come first."""
    return [*CAN_HURT, *ALWAYS] if can_hurt else list(ALWAYS)
