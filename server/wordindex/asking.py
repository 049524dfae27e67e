"""What a person types, as a query of the index. Each word is quoted, so nothing in it can mean anything to SQLite."""

MOST_WORDS = 12


def asked_words(text: str) -> list[str]:
    """Return the words to look for; what holds no letter or figure counts only where there is nothing else."""
    words = text.replace("\x00", "").split()[:MOST_WORDS]
    return [word for word in words if any(sign.isalnum() for sign in word)] or words[:1]


def match_of(word: str) -> str:
    """Return the query for texts that hold `word`, or a word beginning with it."""
    return "words : (" + " OR ".join(f"{_quoted(spelling)}*" for spelling in _spellings(word)) + ")"


def match_any(words: list[str], owners: list[str]) -> str:
    """Return the query for texts of `owners` that hold any of `words`."""
    asked = " OR ".join(f"{_quoted(spelling)}*" for word in words for spelling in _spellings(word))
    whose = " OR ".join(_quoted(owner) for owner in owners)
    return f"(words : ({asked})) AND (owner : ({whose}))"


def _spellings(word: str) -> list[str]:
    # The index knows no other case of ß; who types capitals writes SS.
    low = word.lower()
    return sorted({low, low.replace("ß", "ss"), low.replace("ss", "ß")})


def _quoted(word: str) -> str:
    return '"' + word.replace('"', '""') + '"'
