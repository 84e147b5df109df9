"""Which compressions can be read here: asked of the reading process once, by trying each."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from threading import Thread
from typing import Any, Final

from django.core.checks import CheckMessage, Warning

from register.images.child import asked
from register.images.refusals import ImageRefused

_LOG: Final = logging.getLogger(__name__)
_INSTALL: Final = "Install the packages of .ci/lock.txt into this environment again."


@dataclass(frozen=True, slots=True)
class Decoder:
    """One way in which pictures are stored. `works`: a known picture came back as it was."""

    syntax: str
    name: str
    works: bool


@cache
def decoders() -> tuple[Decoder, ...]:
    """Return what was tried, in the order of the trial. Raises ImageRefused without a reader."""
    return tuple(Decoder(**one) for one in asked("decoders")["decoders"])


def decoders_in_words() -> str:
    """Return one line that says what can be read and what cannot."""
    try:
        found = decoders()
    except ImageRefused as refused:
        return str(refused)
    missing = [one.name for one in found if not one.works]
    told = f"Pictures: {len(found) - len(missing)} of {len(found)} ways of storing them are read"
    return f"{told}; not {', '.join(missing)}." if missing else f"{told}."


def tell_meanwhile() -> None:
    """Try the decoders while the server starts, and log what cannot be read."""

    def tell() -> None:
        told = decoders_in_words()
        if check_decoders():
            _LOG.warning(told)
        else:
            _LOG.info(told)

    Thread(target=tell, daemon=True).start()


def check_decoders(app_configs: Sequence[Any] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Warn of each compression whose pictures would be refused (`check --deploy`)."""
    try:
        found = decoders()
    except ImageRefused as refused:
        return [Warning(str(refused), hint=_INSTALL, id="images.W001")]
    return [
        Warning(f"Pictures stored as {one.name} cannot be read.", hint=_INSTALL, id="images.W002")
        for one in found
        if not one.works
    ]
