"""One verdict for a failure that broke at several sites.

What made the part fail is what happened at the site that let go first. Where it is known which one that was, its
verdict is the whole's. Where it isn't, each site that may have been the first counts alike: the probability of a mode
is the mean over those sites (law of total probability with equal chances of having been first; equal is a judgement).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from analysis.evidence.catalogue import MODES
from analysis.evidence.verdict import UNDETERMINED
from analysis.evidence.words import share_words
from server.naming import upper_first
from server.wording import words


@dataclass(frozen=True)
class SiteVerdict:
    """A site's verdict (the JSON of `Verdict.to_json`) and what is held about when it let go: first, later, unknown."""

    id: int
    name: str
    sequence: str
    how_known: str
    result: dict[str, Any]
    load_words: str = ""
    why_followed: str = ""
    faces: tuple[str, ...] = ()


def may_be_first(sites: Sequence[SiteVerdict]) -> list[SiteVerdict]:
    """The sites of which one let go first, as far as is known."""
    first = [site for site in sites if site.sequence == "first"]
    return first or [site for site in sites if site.sequence != "later"] or list(sites)


def whole_verdict(sites: Sequence[SiteVerdict], bar: float) -> dict[str, Any]:
    """Return the whole's verdict in the shape of a site's, with `sites` saying what it was made from.

    `bar` is the least probability of a named mode. At least one site must name that mode itself: a mean of
    undetermined verdicts determines nothing.
    """
    candidates = may_be_first(sites)
    probabilities = {
        mode: round(sum(site.result["probabilities"][mode] for site in candidates) / len(candidates), 4)
        for mode in MODES
    }
    leading = max(MODES, key=lambda mode: probabilities[mode])
    named = [site for site in candidates if site.result["primary"] == leading]
    because = _because(candidates, leading, probabilities[leading], bool(named), bar)
    return {
        "primary": UNDETERMINED if because else leading,
        "probabilities": probabilities,
        "contributing": sorted(
            {mode for site in sites for mode in _other_modes(site)} - ({leading} if not because else set())
        ),
        "sentence": candidates[0].result.get("sentence") if len(candidates) == 1 and not because else None,
        "contributing_because": _gathered(candidates if not because else sites, "contributing_because"),
        "incidental": _gathered(sites, "incidental"),
        "contributions": [],
        "causes": _gathered(candidates, "causes"),
        "open_causes": [],
        "clashes": _gathered(sites, "clashes"),
        "order": order_words(sites),
        "words": f"Undetermined. {because}" if because else _named_words(candidates, leading, probabilities[leading]),
        "undetermined_because": because,
        "bar": bar,
        "rests_on": [site.id for site in candidates],
        "sites": [
            {
                "site_id": s.id,
                "name": s.name,
                "sequence": s.sequence,
                "how_known": s.how_known,
                "load": s.load_words,
                "why_followed": s.why_followed,
                "faces": list(s.faces),
                "primary": s.result["primary"],
                "probabilities": s.result["probabilities"],
            }
            for s in sites
        ],
    }


def order_words(sites: Sequence[SiteVerdict]) -> list[str]:
    """Say which site broke first, what followed and why; or that the order can't be told."""
    first = [site for site in sites if site.sequence == "first"]
    later = [site for site in sites if site.sequence == "later"]
    unknown = [site for site in sites if site.sequence not in {"first", "later"}]
    said = [f"{site.name} let go first{_in_brackets(site.how_known)}: {_named(site)}." for site in first]
    if not first:
        said.append("Which site let go first can't be told.")
    said += [
        f"{site.name} followed{_in_brackets(site.how_known)}"
        + (f", {_because_words(site.why_followed)}" if site.why_followed else "; why is not entered")
        + f": {_named(site)}."
        for site in later
    ]
    said += [f"{site.name}: its place in the order can't be told. {_named(site).capitalize()}." for site in unknown]
    return [upper_first(line) for line in said]


def _in_brackets(text: str) -> str:
    return f" ({text.strip().rstrip('.')})" if text.strip() else ""


def _because_words(text: str) -> str:
    return f"because: {text.strip().rstrip('.')}"


def _named(site: SiteVerdict) -> str:
    return words(site.result["primary"], "mode")


def _gathered(sites: Sequence[SiteVerdict], key: str) -> list[dict[str, Any]]:
    """What the sites found, each with the name of its site."""
    return [{**found, "site": site.name} for site in sites for found in site.result.get(key, [])]


def _other_modes(site: SiteVerdict) -> list[str]:
    named = [site.result["primary"]] if site.result["primary"] != UNDETERMINED else []
    return [*named, *site.result["contributing"]]


def _because(
    candidates: Sequence[SiteVerdict], leading: str, probability: float, named: bool, bar: float
) -> str | None:
    if named and probability >= bar:
        return None
    if len(candidates) == 1:
        site = candidates[0]
        return f"{site.name} let go first, and there: {site.result['undetermined_because']}"
    told = "; ".join(f"{site.name}: {words(site.result['primary'], 'mode')}" for site in candidates)
    return (
        f"It is not known which site let go first, and they don't lead to one mode ({told}). "
        f"{words(leading, 'mode').capitalize()} comes first with {probability:.0%}, and {bar:.0%} is asked for."
    )


def _named_words(candidates: Sequence[SiteVerdict], leading: str, probability: float) -> str:
    mode = words(leading, "mode").capitalize()
    share = share_words(probability)
    if len(candidates) == 1:
        site = candidates[0]
        how = f" ({site.how_known})" if site.how_known else ""
        return f"{mode}, {share}: {site.name} let go first{how}, and its verdict holds for the whole."
    names = ", ".join(site.name for site in candidates)
    return f"{mode}, {share}: which of {names} let go first is not known; this is the mean of their verdicts."
