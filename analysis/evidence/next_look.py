"""Which unanswered observation is worth looking for next."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.evidence.bayes import divergence_bits, posterior
from analysis.evidence.catalogue import MODES, Catalogue, Observation
from analysis.evidence.observations import Seen
from analysis.evidence.weights import weigh_each

# From how many bits on a look is worth which words; two bits would settle four even modes for good. Judgement.
TELLING = ((0.3, "may tell a good deal"), (0.1, "may tell something"), (0.0, "tells little"))


@dataclass(frozen=True)
class Look:
    """An observation not yet made, with the bits about the mode that it can be expected to bring."""

    code: str
    words: str
    look_for: str
    kind: str
    bits: float

    def to_json(self) -> dict[str, object]:
        """As shown to a person; bits rounded to a thousandth."""
        told = next(words for least, words in TELLING if self.bits >= least)
        return {
            "code": self.code,
            "words": self.words,
            "look_for": self.look_for,
            "kind": self.kind,
            "bits": round(self.bits, 3),
            "why": f"{told}: {self.bits:.2f} bit expected",
        }


def next_looks(seen: Sequence[Seen], prior: Mapping[str, float], catalogue: Catalogue, count: int = 3) -> list[Look]:
    """The most telling observations still open, the best first.

    The gain is the expected divergence between the verdict after the look and the verdict now. Without a discount
    by a group it equals the mutual information; where the group has spoken already, the discounted weights are
    used, so that a look that would only repeat what is known is not proposed. "Can't tell" closes an observation
    as an answer does: the person has looked. What an answer has ruled out is answered by it, and what asks about a
    sight is proposed once that was seen.
    """
    done = {entry.code for entry in seen} | _ruled_out(seen, catalogue)
    now = posterior(prior, [w.weights_db for w in weigh_each(seen, catalogue)])
    looks = [
        Look(entry.code, entry.words, entry.look_for, entry.kind, _gain(entry, seen, prior, now, catalogue))
        for entry in catalogue.observations.values()
        if entry.code not in done
    ]
    return sorted(looks, key=lambda look: (-look.bits, look.code))[:count]


def worth_showing(seen: Sequence[Seen], prior: Mapping[str, float], catalogue: Catalogue, count: int = 3) -> list[Look]:
    """The best looks, and among them at least one question: not everybody can measure at once."""
    looks = next_looks(seen, prior, catalogue, count=len(catalogue.observations))
    best = looks[:count]
    if any(look.kind == "answer" for look in best):
        return best
    return [*best, *[look for look in looks[count:] if look.kind == "answer"][:1]]


def _ruled_out(seen: Sequence[Seen], catalogue: Catalogue) -> set[str]:
    """What can't be a question now: excluded by what was seen, or about something that nobody has seen yet."""
    said = {entry.code for entry in seen if entry.answer == "yes"}
    excluded = {other for code in said for other in catalogue.observations[code].excludes}
    excluded |= {entry.code for entry in catalogue.observations.values() if said & set(entry.excludes)}
    return excluded | {e.code for e in catalogue.observations.values() if e.after and not said & set(e.after)}


def _gain(
    entry: Observation,
    seen: Sequence[Seen],
    prior: Mapping[str, float],
    now: Mapping[str, float],
    catalogue: Catalogue,
) -> float:
    gain = 0.0
    for place in range(len(entry.bins)):
        chance = sum(now[mode] * entry.likelihood[mode][place] for mode in MODES)
        after = posterior(prior, [w.weights_db for w in weigh_each([*seen, _outcome(entry, place)], catalogue)])
        gain += chance * divergence_bits(after, now)
    return gain


def _outcome(entry: Observation, place: int) -> Seen:
    if entry.kind == "answer":
        return Seen(entry.code, "yes" if place == 0 else "no")
    return Seen(entry.code, "yes", shares=tuple(1.0 if i == place else 0.0 for i in range(len(entry.bins))))
