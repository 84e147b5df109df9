"""What the register holds of the people in a file, as plain values to compare with."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from register.imports.people import KnownPerson
from register.imports.weighing import Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFracture(Recorded):
    """A fracture of a known patient; `state` is a code of vocabulary.FRACTURE_STATE."""

    level: str
    state: str = "waiting"
    onset_on: date | None = None
    referred_on: date | None = None

    @property
    def waits(self) -> bool:
        """Whether something is still to be done for it."""
        return self.state in ("waiting", "listed")


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownReferral(Recorded):
    """A referral of a known patient: all its values by field name, its drugs and its levels."""

    referred_on: date
    drugs: frozenset[tuple[str, str]] = frozenset()
    levels: Mapping[str, KnownFracture] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPatient(KnownPerson):
    """A patient of the site, with all that a referral is compared with."""

    phones: tuple[str, ...] = ()
    referrals: tuple[KnownReferral, ...] = ()
    fractures: tuple[KnownFracture, ...] = ()
    laboratory: frozenset[tuple[str, date, Decimal]] = frozenset()

    def referral_of(self, day: date) -> KnownReferral | None:
        """The referral written on a day."""
        return next((r for r in self.referrals if r.referred_on == day), None)
