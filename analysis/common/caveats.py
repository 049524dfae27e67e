"""Everything a result may have to say about its own weakness, in one place: code -> words."""

from __future__ import annotations

from typing import Final

REASONS: Final = {
    "touched": "Pressed-flat and rounded roads can't be told apart from one photo under this light.",
    "no_contact": "No road of the layer lies in this face, so there is no contact area to take a share of.",
    "outer_surface": "This is an outer surface: it has no walls, gaps, layer planes or bonded area to measure.",
    "fracture_face": "This is a fracture face: rub marks are measured on outer surfaces.",
    "rub_not_measured": "No rub mark could be measured here; say what you see instead.",
    "no_mate": "No photo of the mating face was given.",
    "mate_without_scale": "The mating face's photo has no scale: give its µm per px.",
    "mate_unread": "The mating face's photo can't be used.",
    "no_gaps": "No wall has a gap, so there is nothing for the mating face to confirm.",
    "level": "The height of the step between two planes can't be read from one photo.",
    "all_unknown": "All of the face is hidden or marked as unknown.",
    "course_small": "Too little contact is to be seen to tell where the break began: under a dozen patches three roads "
    "wide.",
    "course_even": "Nearly all of the contact tore, or nearly none. Whitening that covers the face tells no beginning "
    "from an end: a slowly growing crack whitens as the last ligament does.",
    "course_chance": "What tore lies about the face as it would by chance: the same patches, shuffled, show as strong "
    "a trend more often than one time in twenty.",
    "course_patchy": "More tore on one side, but no more so than patchy welding alone would show: fields as patchy "
    "as this face show as strong a trend more often than one time in ten.",
    "course_wide": "More tore on one side, but which way the break went can't be told to within 75° either way.",
    "course_mates_apart": "The two halves, each read by itself, point different ways: one of the readings is wrong.",
    "no_walls": "No wall fits inside this outline at this line width.",
}

WARNINGS: Final = {
    "walls_guessed": "The number of walls was not given; {count} was assumed. Give it if you know it.",
    "walls_too_many": "{given} walls were given, but only {fit} fit inside the outline.",
    "walls_seen": "{given} walls were reckoned with, but the photo shows {seen}: check the number.",
    "width_seen": "The line width was given as {given:.2f} mm, but the walls on the photo lie about {seen:.2f} mm "
    "apart: check line width and scale.",
    "band_guessed": "The contact band was taken as line width minus layer height, {band:.2f} mm.",
    "white": "White filament hides whitening: the reading rests on texture and shading, and the interval is wider.",
    "soft": "The photo is soft: fine texture is lost, so torn and smooth roads are harder to tell apart.",
    "unknown_large": "{share:.0%} of the face can't be read (grease, glare or marked): see the bounds.",
    "outline_unsure": "The outline was found, but parts of it are weakly backed by the picture: check it.",
    "coarse": "A road is only {pixels:.0f} px wide on this photo: fine texture is out of reach.",
    "spacing": "The walls were measured to lie {spacing:.3f} mm apart; the line width given is {width:.2f} mm. "
    "Give the spacing if you know it.",
    "marks_off": "{count:.0f} of the marks lie off the face and were not used.",
    "marks_disagree": "The marks contradict each other or what the photo shows; the interval is wider. Look again.",
    "marks_one_kind": "All marks say {kind}: with some of the other kind as well the reading can be set right.",
    "even_rub": "No patch differs from what lies around it. A surface that was worn evenly all over shows no patch "
    "either: compare its slopes along the layer lines with those of a piece that wasn't rubbed, photographed alike.",
    "wide_interval": "The interval is wide: count points by hand if the number matters.",
}


def reason(code: str) -> str:
    """The words of a reason why a number can't be had."""
    return REASONS[code]


def warning(code: str, **values: float | str) -> str:
    """The words of a warning, with its numbers filled in."""
    return WARNINGS[code].format(**values)
