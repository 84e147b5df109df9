"""What every page needs: the places somebody may go, and who is signed in."""

from dataclasses import dataclass
from typing import Any, Final

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from register.help import help_template
from register.permissions import may


@dataclass(frozen=True, slots=True)
class Place:
    """One entry of the top line."""

    name: str
    url: str
    current: bool


@dataclass(frozen=True, slots=True)
class Navigation:
    """The top line: places in the order of the work, and the person signed in."""

    places: tuple[Place, ...]
    who: str
    site: str
    role: str
    find_patient_url: str
    words_url: str
    sign_out_url: str


# Name, URL name, the rights of which one opens the place.
_PLACES: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    ("Waiting", "waiting", ("see_patients",)),
    ("Theatre", "theatre-sessions", ("see_patients",)),
    ("Follow-up", "follow-up-due", ("see_patients",)),
    ("Audit", "audits", ("see_audit",)),
    ("Protocol", "protocol", ("see_protocol",)),
    ("Import", "referral-imports", ("refer",)),
    ("Techniques", "techniques", ("manage_catalogue",)),
    ("Stock", "stock", ("manage_catalogue",)),
    ("People", "users", ("manage_users",)),
)


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Give every template `nav` (None when nobody is signed in), `is_demo` and `help_page`."""
    return {
        "nav": _nav(request),
        "is_demo": settings.REGISTER_DEMO,
        "help_page": help_template(getattr(request, "resolver_match", None)),
    }


def _nav(request: HttpRequest) -> Navigation | None:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return None
    places = tuple(
        Place(name, url, request.path.startswith(url))
        for name, url_name, rights in _PLACES
        if any(may(user, right) for right in rights) and (url := _address(url_name))
    )
    sees_patients = may(user, "see_patients") or may(user, "see_with_reason")
    return Navigation(
        places=places,
        who=str(user),
        site=str(user.site) if user.site_id else "",
        role=user.get_role_display(),
        find_patient_url=_address("patient-search") if sees_patients else "",
        words_url=_address("words") if may(user, "see_protocol") else "",
        sign_out_url=_address("account_logout"),
    )


def _address(url_name: str) -> str:
    """Return a place's address; blank in a deployment that leaves the place out."""
    try:
        return reverse(url_name)
    except NoReverseMatch:
        return ""
