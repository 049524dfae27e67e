"""The one door to the strength stage: a place's loads held against its face, kept in memory while nothing changes."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from sqlmodel import Session

from analysis.strength.assess import assess
from analysis.strength.assessment import Assessment, ServiceSurvived
from analysis.strength.facewelds import FaceWelds
from analysis.strength.loadcase import LoadCase as Load
from analysis.strength.loadcase import lever_arm
from analysis.strength.ranges import Range
from analysis.strength.section import SectionRefused
from server.measuring.overlays import label_map
from server.records import LoadCase, WeldStrength
from server.store import Store
from server.strength.entries import current_loads, current_weld
from server.strength.ground import Ground, Grounds, grounds
from server.verdict.scope import Scope

READ = ("surface", "bonded_share_of_face", "bonded_area_fraction")
# One load that was always the same and isn't known exactly; said on the page.
STOOD = ServiceSurvived()


@dataclass(frozen=True)
class Held:
    """Loads held against one face; `found` is None where no load was given or where `why` says what is missing."""

    ground: Ground
    loads: tuple[LoadCase, ...]
    face: FaceWelds | None
    found: Assessment | None
    why: str = ""


@dataclass(frozen=True)
class _Map:
    """What a face's maps are made from; equal ones give equal maps."""

    store: Store
    labels_sha256: str
    result: str
    um_per_px: float
    px_per_pixel: float
    relative_sd: float


def hold(session: Session, scope: Scope, store: Store) -> tuple[Grounds, list[Held]]:
    """Hold the loads that count against the faces on which they were said; the face with most loads comes first."""
    found, weld = grounds(session, scope), current_weld(session, scope)
    by_face: dict[int, list[LoadCase]] = {}
    for load in _placed(current_loads(session, scope), found):
        ground = found.of(load.face_id)
        if ground:
            by_face.setdefault(ground.face.id or 0, []).append(load)
    if not by_face and found.faces:
        by_face[found.faces[0].face.id or 0] = []
    stood = STOOD if scope.failure.service_id else None
    ordered = sorted(by_face.items(), key=lambda pair: -len(pair[1]))
    return found, [_hold(store, ground, loads, weld, stood) for key, loads in ordered if (ground := found.of(key))]


def _placed(loads: Sequence[LoadCase], found: Grounds) -> list[LoadCase]:
    """Leave out loads whose direction was said on no measured face: it means nothing on another photo."""
    measured = {one.face.id for one in found.faces}
    return [load for load in loads if load.azimuth_deg is None or load.face_id in measured]


def _hold(
    store: Store, ground: Ground, loads: Sequence[LoadCase], weld: WeldStrength | None, stood: ServiceSurvived | None
) -> Held:
    try:
        face = _face(_map(store, ground))
        if not loads:
            return Held(ground, (), face, None)
        strength = Range(weld.low_mpa, weld.high_mpa) if weld else None
        notch = Range(weld.notch_low, weld.notch_high) if weld and weld.notch_high > 1 else None
        found = _assessed(_map(store, ground), tuple(as_load(one) for one in _named(loads)), strength, notch, stood)
    except SectionRefused as refused:
        return Held(ground, tuple(loads), None, None, str(refused))
    return Held(ground, tuple(loads), face, found)


def _named(loads: Sequence[LoadCase]) -> list[tuple[str, LoadCase]]:
    """Give each load a name of its own: two people may call two loads alike."""
    names: list[str] = []
    for number, load in enumerate(loads, 1):
        names.append(load.name if load.name not in names else f"{load.name} (load {number})")
    return list(zip(names, loads, strict=True))


def as_load(named: tuple[str, LoadCase]) -> Load:
    """Return an entry as the strength stage takes it."""
    name, load = named
    return Load(
        name=name,
        force_n=Range(load.force_low_n, load.force_high_n),
        tilt_deg=load.tilt_deg,
        azimuth_deg=load.azimuth_deg,
        reach_mm=lever_arm(load.reach_low_mm, load.reach_high_mm),
        offset_mm=(load.offset_right_mm, load.offset_down_mm),
        source=load.source,
        kind="bending" if load.action == "bend" else "force",
    )


def _map(store: Store, ground: Ground) -> _Map:
    record, result = ground.measurement, ground.measurement.result
    return _Map(
        store,
        record.labels_sha256,
        json.dumps({name: result.get(name) for name in READ}, sort_keys=True),
        ground.um_per_px,
        record.px_per_pixel,
        float(record.given.get("scale_relative_sd") or 0.01),
    )


@lru_cache(maxsize=8)  # maps of a few megabytes each
def _face(given: _Map) -> FaceWelds:
    return FaceWelds.from_labels(
        label_map(given.store, given.labels_sha256),
        json.loads(given.result),
        given.um_per_px,
        given.px_per_pixel,
        scale_relative_sd=given.relative_sd,
    )


@lru_cache(maxsize=16)
def _assessed(
    given: _Map, loads: tuple[Load, ...], weld: Range | None, notch: Range | None, stood: ServiceSurvived | None
) -> Assessment:
    return assess(_face(given), loads, weld, notch, stood)
