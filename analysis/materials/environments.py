"""Places of use with how hot they get, each with its source; and the place that a part really has."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from analysis.materials.library import AGENTS, STATUSES, MaterialsError

WATERS: Mapping[str, str] = {"dry": "dry", "humid": "humid or splashed", "wet": "wet or under water"}


@dataclass(frozen=True)
class Preset:
    """A usual place: the range of highest temperatures reported (°C), what is around it, and who says so."""

    code: str
    words: str
    low_c: float
    high_c: float
    agents: tuple[str, ...]
    water: str
    source: str
    status: str


@dataclass(frozen=True)
class Environment:
    """What a part has to stand: highest temperature (°C), agents (keys of `AGENTS`), water (a key of `WATERS` or "").

    None and "" mean that nobody has said.
    """

    highest_c: float | None
    agents: tuple[str, ...] = ()
    water: str = ""

    def __post_init__(self) -> None:
        if unknown := [agent for agent in self.agents if agent not in AGENTS]:
            raise ValueError(f"agents: nothing is called {unknown[0]}; one of {', '.join(AGENTS)}")
        if self.water and self.water not in WATERS:
            raise ValueError(f"water: {self.water} is none of {', '.join(WATERS)}")


@cache
def load_presets() -> Mapping[str, Preset]:
    """Return the usual places by code, in the order of the file."""
    text = resources.files("analysis.materials").joinpath("environments.toml").read_text(encoding="utf-8")
    presets: dict[str, Preset] = {}
    for entry in tomllib.loads(text)["place"]:
        low, high = entry["highest_c"]
        if low > high or entry["status"] not in STATUSES:
            raise MaterialsError(f"place {entry['code']}: its range runs backwards or its status is unknown")
        agents = Environment(high, tuple(entry["agents"]), entry["water"]).agents
        presets[entry["code"]] = Preset(
            entry["code"],
            entry["words"],
            float(low),
            float(high),
            agents,
            entry["water"],
            entry["source"],
            entry["status"],
        )
    return presets
