"""Which changes are worth considering for one part, and why each of the others isn't."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.nextbuild.catalogue import ChangeKind, load_changes
from analysis.nextbuild.effects import Candidate
from analysis.nextbuild.envelope import away_from_break, room_for
from analysis.nextbuild.roads import contact_gain
from analysis.nextbuild.situation import MaterialOption, Situation
from analysis.strength.ranges import Range

_WIDTH_OVER_BORE = (1.2, 1.4)  # see the change "wider_roads"
_THINNER = 0.75  # see the change "thinner_layers"
_HONEST = 0.15  # relative sd laid over an effect that was reckoned by a model; judgement
_SOLID_PERCENT = 95.0


@dataclass(frozen=True)
class Left:
    """A change that is not offered: why, and whether knowing more could bring it in."""

    kind: ChangeKind
    detail: str
    why: str
    is_open: bool = False

    @property
    def words(self) -> str:
        """The change in words."""
        return f"{self.kind.words}: {self.detail}" if self.detail else self.kind.words


@dataclass(frozen=True)
class Field:
    """The changes that can be made, those that can't, and what would not help."""

    candidates: tuple[Candidate, ...]
    left_out: tuple[Left, ...]
    would_not_help: tuple[str, ...]


def survey(situation: Situation, changes: Mapping[str, ChangeKind] | None = None) -> Field:
    """Judge every kind of change for one part."""
    possible: list[Candidate] = []
    left: list[Left] = []
    useless: list[str] = []
    for kind in (changes or load_changes()).values():
        useless += away_from_break(kind, situation.regions)
        if not treats(kind, situation):
            left.append(Left(kind, "", "It would not treat what broke this part."))
        elif kind.effect_from == "materials":
            _materials(kind, situation, possible, left)
        else:
            _one(kind, situation, possible, left)
    return Field(tuple(possible), tuple(left), tuple(useless))


def treats(kind: ChangeKind, situation: Situation) -> bool:
    """Whether a change bears on the modes or causes that were found."""
    return bool(set(kind.treats_modes) & set(situation.modes) or set(kind.treats_causes) & set(situation.causes))


def _one(kind: ChangeKind, situation: Situation, possible: list[Candidate], left: list[Left]) -> None:
    room = room_for(kind, situation.regions)
    if room.standing != "possible":
        left.append(Left(kind, "", room.why, is_open=room.standing == "not_known"))
        return
    if why := _printer_refuses(kind, situation):
        left.append(Left(kind, "", why))
        return
    effect, detail = _effect(kind, situation, room.room_mm)
    if effect is not None and effect.high <= 1.0:
        left.append(Left(kind, detail, "It gains nothing here."))
        return
    possible.append(Candidate(kind, effect, detail))


def _printer_refuses(kind: ChangeKind, situation: Situation) -> str:
    if kind.needs_chamber and situation.printer.heated_chamber is False:
        return "The printer has no heated chamber."
    most, now = situation.printer.nozzle_max_c, situation.build.nozzle_c
    if kind.needs_nozzle_c and most is not None and now is not None and now + kind.needs_nozzle_c > most:
        return f"The nozzle ran at {now:g} °C and the printer ends at {most:g} °C."
    infill = situation.build.infill_percent
    if kind.needs_sparse and infill is not None and infill >= _SOLID_PERCENT:
        return "The section is solid already."
    return ""


def _materials(kind: ChangeKind, situation: Situation, possible: list[Candidate], left: list[Left]) -> None:
    for option in situation.materials:
        if option.is_present:
            continue
        if why := _material_refused(option, situation):
            left.append(Left(kind, option.name, why, is_open=option.fitness == "not_known"))
        else:
            possible.append(Candidate(kind, option.strength_ratio, option.name))


def _material_refused(option: MaterialOption, situation: Situation) -> str:
    if option.fitness in ("doesnt_fit", "not_known"):
        return option.why
    if option.days is not None and situation.days_left is not None and option.days > situation.days_left:
        return f"It takes {option.days:g} days to get, and the part is needed in {situation.days_left:g}."
    limit = situation.printer.nozzle_max_c
    if option.nozzle_c is not None and limit is not None and option.nozzle_c > limit:
        return f"It needs a nozzle at {option.nozzle_c:g} °C and the printer ends at {limit:g} °C."
    if option.needs_chamber and situation.printer.heated_chamber is False:
        return "It needs a heated chamber, and the printer has none."
    if option.strength_ratio is None:
        return "Its strength across the layers is not known: test a few upright bars."
    if option.strength_ratio.median <= 1.0:
        return "It is no stronger across the layers than the present one."
    return ""


def _effect(kind: ChangeKind, situation: Situation, room_mm: float | None) -> tuple[Range | None, str]:
    """The factor that a change promises here, with what it was reckoned from; the file's own where nothing is known."""
    build = situation.build
    effect: Range | None = None
    detail = ""
    match kind.effect_from:
        case "in_plane":
            effect = build.in_plane_ratio
        case "road_width":
            effect, detail = _wider(situation)
        case "layer_height":
            effect, detail = _thinner(situation)
        case "full_contact":
            effect, detail = _fuller(situation)
        case "thickness":
            effect, detail = _thicker(situation, room_mm)
    return (effect, detail) if effect is not None else (kind.effect, "")


def _wider(situation: Situation) -> tuple[Range | None, str]:
    build = situation.build
    if not (build.line_width_mm and build.layer_height_mm and build.nozzle_mm):
        return None, ""
    widths = [width for over in _WIDTH_OVER_BORE if (width := over * build.nozzle_mm) > build.line_width_mm]
    if not widths:
        return Range(1.0, 1.0), f"they are {build.line_width_mm:g} mm wide already"
    gains = [_gain(situation, width, build.layer_height_mm) for width in widths]
    words = " or ".join(f"{width:.2f}" for width in widths)
    return _between(gains), f"{words} mm instead of {build.line_width_mm:g} mm"


def _thinner(situation: Situation) -> tuple[Range | None, str]:
    build = situation.build
    if not (build.line_width_mm and build.layer_height_mm):
        return None, ""
    height = _THINNER * build.layer_height_mm
    gain = _gain(situation, build.line_width_mm, height)
    return _between([1.0, gain]), f"{height:.2f} mm instead of {build.layer_height_mm:g} mm"


def _fuller(situation: Situation) -> tuple[Range | None, str]:
    """What is missing of the contact can be won back: from a half of it to all."""
    share = situation.build.bonded_share
    if share is None or share[0] <= 0:
        return None, ""
    middle = sum(share) / 2
    return _between([(middle + 1) / 2 / middle, 1 / middle]), f"{middle:.0%} of the contact was joined"


def _thicker(situation: Situation, room_mm: float | None) -> tuple[Range | None, str]:
    thickness, bends = situation.build.thickness_mm, situation.build.bends
    if not (thickness and room_mm and bends is not None):
        return None, ""
    gain = ((thickness + room_mm) / thickness) ** (2 if bends else 1)
    how = "in bending" if bends else "in tension"
    return Range.around(gain, _HONEST / 2), f"{thickness + room_mm:g} mm instead of {thickness:g} mm, {how}"


def _gain(situation: Situation, width_mm: float, height_mm: float) -> float:
    build = situation.build
    present = (build.line_width_mm or 0.0, build.layer_height_mm or 0.0)
    return contact_gain(present, (width_mm, height_mm)) if 0 < present[1] < present[0] and height_mm < width_mm else 1.0


def _between(gains: list[float]) -> Range:
    """A 90 % range about reckoned gains, widened by what the model leaves out."""
    reckoned = Range(min(gains), max(gains))
    return reckoned.times(Range.around(1.0, _HONEST / 2))
