"""Typed values from the environment. A message names the variable, never its value."""

import os

from django.core.exceptions import ImproperlyConfigured

TRUE, FALSE = ("1", "true", "yes", "on"), ("0", "false", "no", "off")


def text(name: str, default: str | None = None) -> str:
    """Return the variable, or the default; None as default means that it must be set."""
    value = os.environ.get(name, "").strip()
    if value:
        return value
    if default is None:
        raise ImproperlyConfigured(f"Set {name} in the environment; it has no safe default.")
    return default


def one_of(name: str, allowed: tuple[str, ...], default: str) -> str:
    """Return the variable when it is one of the allowed words."""
    value = text(name, default)
    if value not in allowed:
        raise ImproperlyConfigured(f"Set {name} to one of: {', '.join(allowed)}.")
    return value


def flag(name: str, default: bool) -> bool:
    """Return a yes/no variable."""
    word = text(name, str(default)).lower()
    if word not in TRUE + FALSE:
        raise ImproperlyConfigured(f"Set {name} to yes or no.")
    return word in TRUE


def number(name: str, default: int) -> int:
    """Return a whole, unsigned number."""
    word = text(name, str(default))
    if not (word.isascii() and word.isdigit()):
        raise ImproperlyConfigured(f"Set {name} to a whole number.")
    return int(word)


def items(name: str, default: tuple[str, ...] = ()) -> list[str]:
    """Return a comma-separated list without empty entries."""
    return [item.strip() for item in text(name, ",".join(default)).split(",") if item.strip()]
