"""Cuts a designation into words and numbers, and a word written without gaps, such as PCABS, into its symbols."""

import re
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass

from analysis.materials.symbols import COMMON_FILLERS, POLYMERS, SPELLINGS, TRADE

LONGEST = 200  # characters; a label is shorter
LONGEST_WORD = 24  # letters that may hide several symbols
PIECES = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[^\W\d_]+")
LONE_PLUS = re.compile(r"(?<=\w)\+(?!\s*[\w(])")  # PLA+ is a trade word, PC+ABS is not
WHOLE = {*POLYMERS, *SPELLINGS} - {"PE-HD", "PE-LD", "PS-HI"} | {"PCT"}


@dataclass(frozen=True)
class Token:
    """A word in capitals or a number as written; `glued` where nothing stands between it and the one before."""

    text: str
    glued: bool

    @property
    def is_number(self) -> bool:
        """Whether it is figures."""
        return self.text[0] in "0123456789"


def tokens(text: str) -> list[Token]:
    """Return the words and numbers of any text, in order; everything else only parts them."""
    plain = unicodedata.normalize("NFKC", text[:LONGEST]).upper()
    plain = LONE_PLUS.sub(" PLUS ", plain)
    found: list[Token] = []
    end = -1
    for match in PIECES.finditer(plain):
        glued = match.start() == end
        for number, part in enumerate(_parts(match[0])):
            found.append(Token(part, glued or number > 0))
        end = match.end()
    return found


def _parts(word: str) -> list[str]:
    if word[0] in "0123456789" or word in WHOLE or word in COMMON_FILLERS or word in TRADE:
        return [word]
    if word[0] == "R" and word[1:] in WHOLE:
        return ["R", word[1:]]
    return (_split(word, WHOLE) if len(word) <= LONGEST_WORD else None) or [word]


def _split(word: str, starts: Collection[str]) -> list[str] | None:
    """Return `word` as known symbols without rest, longest first, a polymer first; None where it isn't made so."""
    for length in range(len(word), 1, -1):
        head, rest = word[:length], word[length:]
        if head not in starts:
            continue
        if not rest:
            return [head]
        tail = _split(rest, WHOLE | COMMON_FILLERS | set(TRADE))
        if tail:
            return [head, *tail]
        # A letter or two before figures: PETG's G, talc's T, PA6T's letters are judged by the decoder.
        if rest in {"G", "T", "M", "MXD"}:
            return [head, rest]
    return None
