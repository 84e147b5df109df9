"""Writing the lines of a confirmed theatre log."""

from collections.abc import Sequence

from register.imports.verdicts import Verdict
from register.models import Site, TheatreLogEntry, User
from register.services.import_writing import Say, Writer


def theatre_log_write(
    verdicts: Sequence[Verdict], *, site: Site, user: User, say: Say | None = None
) -> None:
    """Write new lines and what others change, each with the procedure that it was found to be.

    Call it inside `acting`. Raises what Writer.write raises.
    """
    writer = Writer(TheatreLogEntry, say=say)
    for verdict in verdicts:
        writer.take(verdict)
    writer.write()
