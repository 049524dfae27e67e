"""What the record's forms share: choices that refuse other parts' records in clear words, days that can have been."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, ClassVar

from starlette.datastructures import FormData, ImmutableMultiDict
from wtforms import DateField, Form, SelectField
from wtforms.validators import InputRequired, Optional, ValidationError

from server.wording import choices

OLDEST = date(1900, 1, 1)
LONGEST_AHEAD_YEARS = 50


class RecordForm(Form):
    """A form that reads text only: a file sent under a text field's name counts as nothing."""

    groups: ClassVar[list[tuple[str, list[str]]]] = []  # headings and the fields under them; none: one plain run

    def __init__(self, sent: FormData | None = None, obj: Any = None, **defaults: Any) -> None:
        typed = None
        if sent is not None:
            typed = ImmutableMultiDict([(name, value) for name, value in sent.multi_items() if isinstance(value, str)])
        super().__init__(typed, obj=obj, **defaults)

    def missing_together(self) -> Iterator[tuple[str, str]]:
        """Yield a field's name and words where it is empty although another field asks for it.

        Apart from the fields' own rules, for WTForms leaves the rules of an empty optional field unread.
        """
        yield from ()

    def validate(self, *args: Any, **kwargs: Any) -> bool:
        """Return whether every field holds what it may hold, each alone and together."""
        passed = bool(super().validate(*args, **kwargs))
        for name, words in self.missing_together():
            self[name].errors = [*self[name].errors, words]
            passed = False
        return passed


class Choice(SelectField):
    """One of a list, given as codes with their words; anything else is refused."""

    def pre_validate(self, form: Any) -> None:
        """Raise where what was sent is not in the list."""
        try:
            super().pre_validate(form)
        except ValidationError:
            raise ValidationError("That one can't be chosen here. Choose one from the list.") from None


class Day(DateField):
    """A date, read as the browser writes it."""

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Read the date; raise with how to write one."""
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError(f"“{str(valuelist[0])[:20]}” is no date. Write it as 2026-03-07.") from None


def choice(label: str, kind: str, help_text: str = "", default: str = "") -> Any:
    """Return a select over the codes of `kind` in wording.py."""
    return Choice(label, choices=dict(choices(kind)), default=default, description=help_text)


def record_choice(label: str, help_text: str = "") -> Any:
    """Return a select over records by key; fill its choices with `offer`."""
    return Choice(label, choices={"": "–"}, coerce=_key, description=help_text)


def offer(field: Any, none: str | None, rows: Iterable[tuple[int | None, str]]) -> None:
    """Give the select `field` its records, with the words `none` for no record (None: one has to be chosen)."""
    field.choices = ({} if none is None else {"": none}) | dict(rows)


def _key(value: Any) -> int | None:
    if value in (None, ""):
        return None
    # -1 is no record's key, so what is not a number is refused as not in the list.
    return int(value) if str(value).isascii() and str(value).isdigit() else -1


def past_day(label: str, help_text: str = "", *, required: bool = False) -> Any:
    """Return a date field for something that has happened."""
    return Day(label, [_presence(required), _believable, _not_ahead], description=help_text)


def any_day(label: str, help_text: str = "", *, required: bool = False) -> Any:
    """Return a date field that may lie ahead."""
    return Day(label, [_presence(required), _believable], description=help_text)


def _presence(required: bool) -> Any:
    return InputRequired("Give the date.") if required else Optional()


def _believable(_form: Any, field: Any) -> None:
    if field.data and not OLDEST <= field.data <= date(date.today().year + LONGEST_AHEAD_YEARS, 12, 31):
        raise ValidationError(f"The year {field.data.year} can't be meant.")


def _not_ahead(_form: Any, field: Any) -> None:
    if field.data and field.data > date.today():
        raise ValidationError("This lies in the future. Give a day up to today.")


def refuse_before(field: Any, earliest: date | None, words: str) -> None:
    """Raise `words` where the date in `field` lies before `earliest`; an unknown date on either side passes."""
    if earliest and field.data and field.data < earliest:
        raise ValidationError(words)


def refuse_after(field: Any, latest: date | None, words: str) -> None:
    """Raise `words` where the date in `field` lies after `latest`; an unknown date on either side passes."""
    if latest and field.data and field.data > latest:
        raise ValidationError(words)
