"""What all vocabularies share: the form of (code, words) pairs, and the reasons for absence."""

from typing import Final

Words = tuple[tuple[str, str], ...]

ABSENT: Final[Words] = (
    ("not_known", "not known"),
    ("not_done", "not done"),
    ("not_applicable", "not applicable"),
    ("declined", "declined"),
)
YES_NO: Final[Words] = (("yes", "yes"), ("no", "no"))


def words_for(vocabulary: Words, code: str) -> str:
    """Return the words of a code; "not recorded" for a blank one. Raises KeyError when unknown."""
    return dict(vocabulary)[code] if code else "not recorded"


def codes(vocabulary: Words) -> list[str]:
    """Return the codes of a vocabulary, in order."""
    return [code for code, _ in vocabulary]
