"""Loads of hands, feet and bodies that a person can start from, as the analysis has them."""

from analysis.strength.bodyloads import BodyLoad, load_body_loads

# Design limits are low figures for weak users; whoever takes one for an overload has to know.
KINDS = {"low percentile": "weak user", "usual": "usual", "strong user": "strong user", "body weight": "body weight"}


def preset(code: str) -> BodyLoad | None:
    """Return one load of the table, None for a code that it no longer has."""
    return load_body_loads().get(code)


def preset_choices() -> dict[str, str]:
    """Return the table as choices of a form."""
    return {"": "no, I give it below"} | {code: _words(load) for code, load in load_body_loads().items()}


def _words(load: BodyLoad) -> str:
    return f"{load.words}: {load.force_n.low:g} to {load.force_n.high:g} N ({KINDS[load.kind]})"


def source_words(load: BodyLoad) -> str:
    """Say where the load is from, with the status of that."""
    return f"{load.words}: {load.source} ({load.status}). {load.note}".strip()
