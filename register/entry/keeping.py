"""Unfinished typing between the page and its author's draft."""

from typing import Any, Final

from django.http import HttpRequest, HttpResponse, QueryDict

from register.entry.filling import fill
from register.entry.statement import FIELD, Statement
from register.entry.whose import match_of
from register.models import Draft, User
from register.services.drafts import TooMuchTyped, draft_drop, draft_keep

RESUME: Final = "unfinished"  # part of the address that asks for a draft
# What a form holds besides typing, and what is never kept.
_NOT_TYPED: Final = {"csrfmiddlewaretoken", FIELD, "token", "draft_for"}
_SECRET: Final = ("passphrase", "password")
# Pages whose boxes are not an entry.
NOT_KEPT: Final = {"patient-search", "record-reason", "user-passphrase", "draft-keep", "draft-drop"}


def keep_posted(
    request: HttpRequest, author: User, statement: Statement, path: str = ""
) -> Draft | None:
    """Keep a posted form for whoever opened its page; None when it holds nothing to keep."""
    path = path or request.path
    match = match_of(path)
    if match is None or match.url_name in NOT_KEPT:
        return None
    typed = typing_of(request.POST)
    if not any(value.strip() for values in typed.values() for value in values):
        return None
    title = statement.title or _words_of(match.func)
    try:
        return draft_keep(user=author, form=path, data=typed, title=title, address=statement.page)
    except TooMuchTyped:
        return None


def typing_of(posted: QueryDict) -> dict[str, list[str]]:
    """Return what was typed, without secrets and without what the page says about itself."""
    return {
        name: [str(value) for value in values]
        for name, values in posted.lists()
        if name not in _NOT_TYPED and not any(word in name.lower() for word in _SECRET)
    }


def drop_of(user: User, path: str) -> None:
    """Forget the draft of a form that was saved."""
    if Draft.objects.filter(user=user, form=path).exists():
        draft_drop(user=user, form=path)


def resume_address(draft: Draft) -> str:
    """Return the page with a draft in its boxes."""
    page, _, query = draft.address.partition("?")
    asked = QueryDict(query, mutable=True)
    asked[RESUME] = str(draft.pk)
    return f"{page}?{asked.urlencode()}"


def drafts_here(request: HttpRequest) -> list[Draft]:
    """Return the person's own drafts that belong to this page, the newest first."""
    return [one for one in own_drafts(request) if one.address.partition("?")[0] == request.path]


def own_drafts(request: HttpRequest) -> list[Draft]:
    """Return the person's own drafts, the newest first. One query for a page."""
    found: list[Draft] | None = getattr(request, "own_drafts", None)
    if found is None:
        kept = Draft.objects.filter(user=request.user.pk).exclude(address="")
        found = list(kept.order_by("-saved_at", "-pk"))
        request.own_drafts = found  # type: ignore[attr-defined]
    return found


def draft_asked(request: HttpRequest) -> Draft | None:
    """Return the draft of one's own that the address asks for, when it belongs to this page."""
    asked = request.GET.get(RESUME, "")
    return next((one for one in drafts_here(request) if str(one.pk) == asked), None)


def shown_with_draft(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Fill the boxes of a page with the draft that its address asks for."""
    if RESUME not in request.GET or request.method != "GET" or response.status_code != 200:
        return response
    if not response.headers.get("Content-Type", "").startswith("text/html"):
        return response
    draft = draft_asked(request) if request.user.is_authenticated else None
    if draft is not None:
        page = response.content.decode(response.charset)
        filled = fill(page, typed=draft.data, action=draft.form, here=request.path)
        response.content = filled.encode(response.charset)
    return response


def _words_of(view: Any) -> str:
    """Return what a page is for, in the first words of its own description."""
    return str(view.__doc__ or "").strip().split("\n")[0].split(";")[0].rstrip(".")
