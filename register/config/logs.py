"""What is written to the log: where it failed and how, never whose record it was.

An error's own words may quote a value (a database names the duplicate key), so
only its kind and the lines of code are kept.
"""

import logging
import traceback
from types import TracebackType

ExcInfo = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


class NoIdentities(logging.Formatter):
    """A formatter that leaves the words of exceptions out, at every link of the chain."""

    def formatException(self, ei: ExcInfo) -> str:
        lines: list[str] = []
        error: BaseException | None = ei[1]
        while error is not None:
            frames = traceback.format_tb(error.__traceback__)
            lines = [*frames, f"{type(error).__module__}.{type(error).__qualname__}\n", *lines]
            error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
        return "".join(lines).rstrip()


LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {
            "()": NoIdentities,
            "format": "{asctime} {levelname} {name} {message}",
            "style": "{",
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        # A refusal is an answer, not a fault; it is counted by the matrix tests.
        "django.request": {"handlers": ["console"], "level": "ERROR", "propagate": False},
        "fontTools": {"level": "ERROR"},
        "weasyprint": {"level": "ERROR"},
    },
}
