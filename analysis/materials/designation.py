"""Reads material designations: family, filler and its share, hardness, what can't be read and what is often misread."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from analysis.materials import symbols
from analysis.materials.tokens import LONGEST, Token, tokens

SHARE_MAX = 90.0  # percent by mass; more filler than this holds no part together


@dataclass(frozen=True)
class Filler:
    """One filler: kind and form in words, its share in percent by mass; None where it isn't given."""

    symbol: str
    kind: str
    form: str
    percent: float | None = None


@dataclass(frozen=True)
class Designation:
    """What a designation says. `unknown` holds, as written, what has no meaning here: never guessed at."""

    written: str
    polymers: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    fillers: tuple[Filler, ...] = ()
    together_percent: float | None = None  # the fillers' share as one figure, where it is given so
    shore: str = ""
    data: tuple[str, ...] = ()  # further data blocks of ISO 16396-1, as written
    warnings: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()

    @property
    def plain(self) -> str:
        """The designation in standard spelling, without shares: PC+ABS, PA66-GF, PP-TD."""
        base = "+".join(self.polymers)
        fill = "+".join(filler.symbol for filler in self.fillers)
        return "-".join(part for part in (base, fill) if part)


@dataclass
class _Reading:
    """A designation while it is read: what is left to read, and what was found."""

    left: list[Token]
    polymers: list[str] = field(default_factory=list)
    families: list[str] = field(default_factory=list)
    fillers: list[Filler] = field(default_factory=list)
    shore: str = ""
    data: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)

    def next(self, ahead: int = 0) -> str:
        """Return the text that many tokens ahead, "" past the end."""
        return self.left[ahead].text if ahead < len(self.left) else ""

    def take(self, count: int = 1) -> None:
        """Leave that many tokens behind."""
        del self.left[:count]

    def warn(self, words: str) -> None:
        """Add a warning once."""
        if words not in self.warnings:
            self.warnings.append(words)


def decode(text: str) -> Designation:
    """Read a material designation in standard or trade spelling.

    Never raises on any text. Case, spaces, hyphens, slashes and plus signs between symbols don't matter. A number
    right after PA counts carbon atoms (ISO 16396-1) and is never taken for a filler's share; a number after a filler's
    symbol, or right before it, is its share in percent by mass.
    """
    reading = _Reading(tokens(text))
    while reading.left:
        for rule in RULES:
            if rule(reading):
                break
        else:
            reading.unknown.append(reading.next())
            reading.take()
    if len(text) > LONGEST:
        reading.unknown.append("all after the first 200 characters")
    return _finish(text, reading)


def _polymer(reading: _Reading) -> bool:
    symbol = symbols.SPELLINGS.get(reading.next(), reading.next())
    joined = symbols.JOINED.get((symbol, reading.next(1)))
    if joined is None and symbol not in symbols.POLYMERS:
        return False
    if reading.next() in symbols.SPELLINGS and symbol != "PA":
        reading.warn(f"{reading.next()} is a trade spelling; the standard's symbol is {symbol}.")
    reading.take(2 if joined else 1)
    symbol = joined or symbol
    reading.families.append(symbols.POLYMERS[symbol])
    reading.polymers.append(_polyamide(reading) if symbol == "PA" else symbol)
    return True


def _polyamide(reading: _Reading) -> str:
    """Take the numbers after PA; return the whole symbol, such as PA66 or PA6T/66."""
    units = [unit] if (unit := _pa_number(reading)) else []
    if not units:
        reading.warn(
            "PA without a known number is a whole family: PA6, PA12 and others differ widely in heat and water."
        )
        return "PA"
    while _is_second_unit(reading) and (unit := _pa_number(reading)):
        units.append(unit)
    if units[:2] == ["6", "6"]:
        units[:2] = ["66"]
    for unit in units:
        reading.warn(f"The {unit} after PA counts carbon atoms ({symbols.PA_NUMBERS[unit]}); it is no share of filler.")
    if len(units) > 1:
        reading.warn(
            f"PA{'/'.join(units)} is a copolymer in the standard's spelling; the trade writes the same for "
            f"{' or '.join('PA' + unit for unit in [''.join(units)])}. Ask the maker."
            if "".join(units) in symbols.PA_NUMBERS
            else f"PA{'/'.join(units)} is a copolymer of PA{' and PA'.join(units)}."
        )
    return "PA" + "/".join(units)


def _is_second_unit(reading: _Reading) -> bool:
    number, letter = reading.next(), reading.next(1)
    glued = len(reading.left) > 1 and reading.left[1].glued
    return number in symbols.PA_NUMBERS or (glued and number + letter in symbols.PA_NUMBERS)


def _pa_number(reading: _Reading) -> str:
    """Take one number of a polyamide, its letter with it; "" where there is none or it isn't known."""
    if reading.next() == "MXD" and reading.next(1) == "6":
        reading.take(2)
        return "MXD6"
    if not reading.left or not reading.left[0].is_number:
        return ""
    number = reading.next().replace(".", "").replace(",", "")  # the trade writes 6.6 and 6,10
    if len(reading.left) > 1 and reading.left[1].glued and number + reading.next(1) in symbols.PA_NUMBERS:
        number += reading.next(1)
        reading.take(2)
        return number
    reading.take()
    if number in symbols.PA_NUMBERS:
        return number
    reading.unknown.append(number)
    reading.warn(f"PA{number} is no polyamide known here. A number after PA counts carbon atoms, never filler.")
    return ""


def _blocks(reading: _Reading) -> bool:
    """Take data blocks 2 and 3 of ISO 16396-1: letters of use, then viscosity and modulus, as MH, 14-190."""
    if not any(one.startswith("PA") for one in reading.polymers):
        return False
    letters = reading.next() if set(reading.next()) <= symbols.PA_USES and len(reading.next()) <= 4 else ""
    first, second = (reading.next(1), reading.next(2)) if letters else (reading.next(), reading.next(1))
    if not (_figures(first, 2) and _figures(second, 3)):
        return False
    reading.data += [*([letters] if letters else []), f"{first}-{second}"]
    reading.take(3 if letters else 2)
    return True


def _figures(text: str, count: int) -> bool:
    return len(text) == count and text.isascii() and text.isdigit()


def _filler(reading: _Reading) -> bool:
    """Take a filler with its share after it, or right before it as in 20GF."""
    if not reading.left:
        return False
    # After a bare PA a number may yet be meant as its carbon atoms (PA-HT 12 CF): it is left unknown.
    takes_before = reading.left[0].is_number and "PA" not in reading.polymers
    before = _share(reading.next()) if takes_before else None
    symbol, used = _filler_symbol(reading, 0 if before is None else 1)
    if not symbol:
        return False
    reading.take(used + (0 if before is None else 1))
    percent = before
    if before is None and (percent := _share(reading.next())) is not None:
        reading.take()
    kind = next(letters for letters in (symbol[:2], symbol[0]) if letters in symbols.KINDS)
    form = symbols.FORMS.get(symbol[len(kind) :], "not said")
    if symbol in symbols.ALONE:
        reading.warn(
            f"{symbol} for {symbols.KINDS[symbol]} is a trade spelling; the standard writes its form too, as {symbol}D."
        )
        symbol, form = symbol + "D", symbols.FORMS["D"]
    reading.fillers.append(Filler(symbol, symbols.KINDS[kind], form, percent))
    return True


def _filler_symbol(reading: _Reading, ahead: int) -> tuple[str, int]:
    """Return the filler's symbol that begins `ahead` tokens on and how many tokens it takes; "" where none does."""
    word, after = reading.next(ahead), reading.next(ahead + 1)
    numbered = _share(after) is not None
    if word in symbols.WORDS_KIND:
        kind = symbols.WORDS_KIND[word]
        form = symbols.WORDS_FORM.get(after, "") if len(kind) == 1 else ""
        return (kind + form, 2 if form else 1) if len(kind + form) > 1 else ("", 0)
    if word == "MED" and len(after) == 2 and after.isalpha():
        return "MED", 2  # the metal's sign in brackets
    if word in symbols.COMMON_FILLERS or (word in symbols.ALONE and numbered):
        return word, 1
    if len(word) == 2 and word[0] in symbols.KINDS and word[1] in symbols.FORMS and (numbered or ahead):
        return word, 1
    return "", 0


def _share(text: str) -> float | None:
    number = text.replace(",", ".")
    if not number or number[0] not in "0123456789" or len(number) > 5:
        return None
    return float(number) if 0 < float(number) <= SHARE_MAX else None


def _shore(reading: _Reading) -> bool:
    """Take a hardness such as 95A, A95 or 40 D, for an elastomer only."""
    if not symbols.ELASTOMERS & set(reading.polymers):
        return False
    pair = sorted((reading.next(), reading.next(1)))
    if not (_figures(pair[0], 2) and pair[1] in {"A", "D"}):
        return False
    reading.shore = f"{pair[0]} Shore {pair[1]}"
    reading.take(2)
    return True


def _trade(reading: _Reading) -> bool:
    word = reading.next()
    if word not in symbols.TRADE:
        return False
    reading.warn(
        f"{word} is a trade word, no symbol of the standard ({symbols.TRADE[word]}). The maker's data sheet decides."
    )
    reading.take()
    return True


def _silent(reading: _Reading) -> bool:
    if reading.next() not in symbols.SILENT:
        return False
    reading.take()
    return True


RULES = (_polymer, _shore, _blocks, _filler, _trade, _silent)


def _finish(text: str, reading: _Reading) -> Designation:
    fillers, together = _shared(reading)
    if len(reading.polymers) > 1:
        blend = "+".join(reading.polymers)
        reading.warn(f"A blend: {blend} in the standard's spelling, {'/'.join(reading.polymers)} in the trade's.")
    for polymer in reading.polymers:
        _look_alikes(reading, "PA" if polymer.startswith("PA") and polymer not in symbols.POLYMERS else polymer)
    if not reading.polymers:
        reading.warn("No polymer is named that is known here.")
    return Designation(
        written=text,
        polymers=tuple(reading.polymers),
        families=tuple(reading.families),
        fillers=fillers,
        together_percent=together,
        shore=reading.shore,
        data=tuple(reading.data),
        warnings=tuple(reading.warnings),
        unknown=tuple(reading.unknown),
    )


def _shared(reading: _Reading) -> tuple[tuple[Filler, ...], float | None]:
    """Fillers of which only the last has a share, as in (GF+MD)40: the figure is theirs together."""
    found: Sequence[Filler] = reading.fillers
    if len(found) < 2 or found[-1].percent is None or any(one.percent is not None for one in found[:-1]):
        return tuple(found), None
    together = found[-1].percent
    reading.warn(f"{together:g} % is read as the share of all its fillers together.")
    return tuple(Filler(one.symbol, one.kind, one.form) for one in found), together


def _look_alikes(reading: _Reading, symbol: str) -> None:
    others = sorted({other for group in symbols.LOOK_ALIKES if symbol in group for other in group} - {symbol})
    if others:
        told = "; ".join(f"{other} is {symbols.POLYMERS[other].split(',')[0]}" for other in others)
        reading.warn(f"Letters that look alike: {symbol} is {symbols.POLYMERS[symbol].split(',')[0]}; {told}.")
