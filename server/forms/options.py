"""Choices of a select or of radio buttons, from codes and their words."""

from collections.abc import Iterable

from wtforms.fields import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs

from server.wording import CODES


def options(pairs: Iterable[tuple[str, str]]) -> list[SelectChoice]:
    """Return pairs of value and words as choices of a field."""
    return [SelectChoice(value, words) for value, words in pairs]


def coded(kind: str) -> list[SelectChoice]:
    """Return the codes of `kind` as choices of a field."""
    return options(CODES[kind].items())
