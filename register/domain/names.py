"""Names that are easily mixed up: the mark "similar name" on lists of people."""

import unicodedata
from collections import defaultdict
from collections.abc import Hashable, Iterable
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)


def similar_names(people: Iterable[tuple[Key, str, str]]) -> set[Key]:
    """Return the keys of people whose name resembles another's in the same list.

    Each person is (key, family name, given name). Two names are similar when
    the given names begin alike and the family names are equal or differ by one
    letter (common practice in patient safety, no source for the exact rule).
    """
    sharing: dict[tuple[str, str], list[Key]] = defaultdict(list)
    for key, family, given in people:
        for shape in _shapes(letters(family)):
            sharing[letters(given)[:1], shape].append(key)
    return {key for keys in sharing.values() if len(keys) > 1 for key in keys}


def letters(name: str) -> str:
    """Return the letters only, without accents and case: "O'Neil-Smith" -> "oneilsmith"."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in plain if letter.isalpha())


def _shapes(name: str) -> set[str]:
    """Return the name with each letter replaced or left out; similar names share one of them."""
    holes = {f"{name[:place]}?{name[place + 1 :]}" for place in range(len(name))}
    gaps = {f"{name[:place]}?{name[place:]}" for place in range(len(name) + 1)}
    return holes | gaps
