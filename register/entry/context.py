"""What base.html tells of unfinished entries."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from register.entry.keeping import draft_asked, drafts_here, own_drafts, resume_address


def unfinished(request: HttpRequest) -> dict[str, Any]:
    """Give every template `unfinished` (begun on this page) and the number of all of one's own."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    return {
        "unfinished": SimpleLazyObject(lambda: _here(request)),
        "unfinished_number": SimpleLazyObject(lambda: len(own_drafts(request))),
    }


def _here(request: HttpRequest) -> list[dict[str, Any]]:
    if request.method == "POST":
        return []  # the form that came back holds what was typed
    asked = draft_asked(request)
    return [
        {"draft": one, "url": resume_address(one), "is_shown": one is asked}
        for one in drafts_here(request)
    ]
