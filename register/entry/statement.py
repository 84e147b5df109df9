"""What a form says about itself: signed, so that it comes back as it was written."""

import secrets
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

from django.core import signing
from django.http import HttpRequest
from django.urls import ResolverMatch

from register.entry.whose import match_of, patient_of

FIELD: Final = "form_page"
OLDEST_SECONDS: Final = 48 * 3600  # longer than any session; an older page is opened again
_SALT: Final = "form page"
_LONGEST: Final = 300  # characters of an address that is kept with its filters


@dataclass(frozen=True, slots=True)
class Statement:
    """Who opened the page, where it is, whose record it showed (None: nobody's), its number.

    `title` is the heading of the page; it may name a patient and stays on the server
    and in the page itself.
    """

    user: int
    page: str
    patient: int | None
    number: str
    title: str

    @classmethod
    def of(cls, request: HttpRequest, title: str = "") -> Self:
        """Make the statement of the page that is being answered."""
        address = request.get_full_path()
        patient = patient_of(request.resolver_match)
        return cls(
            user=int(request.user.pk or 0),
            page=address if len(address) <= _LONGEST else request.path,
            patient=patient.pk if patient else None,
            number=secrets.token_urlsafe(12),
            title=title[:160],
        )

    @classmethod
    def read(cls, request: HttpRequest) -> Self | None:
        """Return what a posted form says; None when it says nothing that we signed."""
        try:
            told: dict[str, Any] = signing.loads(
                request.POST.get(FIELD, ""), salt=_SALT, max_age=OLDEST_SECONDS
            )
            return cls(**told)
        except (signing.BadSignature, TypeError, ValueError):
            return None

    def signed(self) -> str:
        """Return the text of the hidden field."""
        return signing.dumps(asdict(self), salt=_SALT)

    def objection(self, request: HttpRequest, match: ResolverMatch) -> str:
        """Return why the form must not be saved where it was sent; "" when nothing speaks against.

        `match` is where it was sent.
        """
        if request.user.pk != self.user:
            return "Somebody else was signed in when this page was opened."
        opened = match_of(self.page)
        if opened and opened.view_name == match.view_name and opened.kwargs != match.kwargs:
            return "This page was opened for another entry than the one it was sent to."
        patient = patient_of(match)
        if self.patient and patient and patient.pk != self.patient:
            return (
                "This page was opened for another patient than the one this entry belongs to now."
            )
        return ""
