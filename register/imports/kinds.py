"""All kinds of files that can be sent in, by the code of vocabulary.FILE_KIND."""

from typing import Final

from register.imports.procedures.kind import PROCEDURES
from register.imports.reading import FileKind
from register.imports.referrals.kind import REFERRALS
from register.imports.scores.kind import SCORES
from register.imports.theatre_log.kind import THEATRE_LOG

KINDS: Final[dict[str, FileKind]] = {
    kind.code: kind for kind in (REFERRALS, SCORES, THEATRE_LOG, PROCEDURES)
}
