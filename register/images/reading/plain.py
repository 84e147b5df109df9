"""Plain values out of a header that may hold anything: cut, cleaned, or missing."""

import math
import re
from collections.abc import Iterable
from datetime import date
from typing import Any, Final

_UNSHOWN: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202f\u2066-\u2069\ud800-\udfff]+")
_UID: Final = re.compile(r"[0-9][0-9.]{0,63}")
_DAY: Final = re.compile(r"(\d{4})[.-]?(\d{2})[.-]?(\d{2})")


class CannotRead(Exception):
    """`code` is a key of the words of refusals; `at` says where. Holds nothing of a person."""

    def __init__(self, code: str, at: str = "") -> None:
        super().__init__(code)
        self.code, self.at = code, at


def text(value: Any, most: int = 100) -> str:
    """Return a value as one short line; '' when there is none."""
    if value is None:
        return ""
    if not isinstance(value, str) and isinstance(value, Iterable):
        value = ", ".join(map(str, value))
    return _UNSHOWN.sub(" ", str(value)).strip()[:most].strip()


def uid(value: Any) -> str:
    """Return a unique identifier; '' for what is none."""
    found = text(value)
    return found if _UID.fullmatch(found) else ""


def day(value: Any) -> str:
    """Return an ISO day; '' for what is no day of the calendar."""
    found = _DAY.fullmatch(text(value))
    try:
        return date(*map(int, found.groups())).isoformat() if found else ""
    except ValueError:
        return ""


def number(value: Any) -> float | None:
    """Return a finite number; None for what is none. Of several the first."""
    found = numbers(value)
    return found[0] if found else None


def numbers(value: Any, count: int | None = None) -> list[float]:
    """Return finite numbers; none at all when one is not finite or their count is another."""
    if value is None or value == "":
        return []
    several = value if isinstance(value, Iterable) and not isinstance(value, str) else [value]
    try:
        found = [float(one) for one in several]
    except (TypeError, ValueError):
        return []
    if not all(map(math.isfinite, found)) or (count is not None and len(found) != count):
        return []
    return found


def whole(value: Any) -> int | None:
    """Return a whole number; None for what is none or too large to keep."""
    found = number(value)
    if found is None or found != int(found) or abs(found) > 2_000_000_000:
        return None
    return int(found)


def lengths(value: Any) -> list[float] | None:
    """Return (between rows, between columns) in mm; None unless both are greater than 0."""
    found = numbers(value, 2)
    return found if found and min(found) > 0 else None
