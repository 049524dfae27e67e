"""A row as JSON, back again with every value's type checked, and as cells that no spreadsheet takes for a formula."""

import json
import math
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, Column, Table, TypeDecorator

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


class ValueWrong(ValueError):
    """A value is not what its column holds; the message names column and value."""


def as_json(row: Mapping[str, Any]) -> str:
    """Return one line of JSON; what no text file can hold as it is (half a sign) is written as an escape."""
    plain = {name: value.isoformat() if isinstance(value, date) else value for name, value in row.items()}
    text = json.dumps(plain, ensure_ascii=False)
    try:
        text.encode()
    except UnicodeEncodeError:
        return json.dumps(plain)
    return text


def as_cells(row: Mapping[str, Any]) -> list[str]:
    """Return the row's cells; a text that a spreadsheet could take for a formula gets an apostrophe before it."""
    return [_cell(value) for value in row.values()]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return "'" + value if value.startswith(FORMULA) else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict | list):
        return json.dumps(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def from_json(table: Table, row: Any) -> dict[str, Any]:
    """Return the row as the table takes it; raise `ValueWrong` where it isn't one of this table."""
    if not isinstance(row, dict) or set(row) != set(table.columns.keys()):
        raise ValueWrong("has other columns than this version of the program")
    return {column.name: _value(column, row[column.name]) for column in table.columns}


def _value(column: Column[Any], value: Any) -> Any:
    if isinstance(column.type, JSON):
        return value
    if value is None:
        if column.nullable:
            return None
        raise ValueWrong(f"{column.name} is missing")
    good = _typed(_kind(column), value)
    if good is None or (column.name.endswith("sha256") and not _is_hash(good)):
        raise ValueWrong(f"{column.name} can't be {str(value)[:60]!r}")
    return good


def _kind(column: Column[Any]) -> type:
    # A type that dresses up another one knows only that other one's kind of value.
    dressed = column.type
    return (dressed.impl_instance if isinstance(dressed, TypeDecorator) else dressed).python_type


def _typed(kind: type, value: Any) -> Any:
    """Return `value` as `kind`, None where it isn't one."""
    if kind is float and type(value) in {int, float} and math.isfinite(value):
        return float(value)
    if kind is int:
        return value if type(value) is int and abs(value) < 2**63 else None
    if kind in {date, datetime} and isinstance(value, str):
        return _moment(kind, value)
    return value if type(value) is kind and kind is not float else None


def _moment(kind: type, text: str) -> Any:
    try:
        if kind is date:
            return date.fromisoformat(text)
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.utcoffset() is not None else None


def _is_hash(text: str) -> bool:
    return not text or (len(text) == 64 and set(text) <= set("0123456789abcdef"))
