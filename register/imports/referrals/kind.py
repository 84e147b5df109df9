"""Referral files as a kind of file."""

from typing import Final

from register.imports.reading import FileKind
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.rows import contradictions, row_of

REFERRALS: Final = FileKind("referrals", "referral", COLUMNS, row_of, contradictions)
