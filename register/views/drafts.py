"""Unfinished entries of one's own: kept while typing, listed, gone on with, thrown away."""

from dataclasses import dataclass
from typing import Any, Final

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from register.entry.keeping import keep_posted, own_drafts, resume_address, typing_of
from register.entry.statement import Statement
from register.entry.whose import match_of, patient_of
from register.models import Draft
from register.permissions import RIGHTS, SignedInRequest, may, needs
from register.services.drafts import LARGEST_CHARACTERS, draft_drop, draft_keep

DROPPED: Final = "dropped_draft"  # session key: what was thrown away last, for Undo


@dataclass(frozen=True, slots=True)
class Unfinished:
    """One line of the list. `patient` is blank for a page about nobody."""

    draft: Draft
    title: str
    patient: str
    url: str


@needs(*RIGHTS)
@require_GET
def drafts(request: SignedInRequest) -> HttpResponse:
    """Everything of one's own that was begun and not saved."""
    rows = [line for one in own_drafts(request) if (line := _line(request, one)) is not None]
    context = {
        "rows": rows,
        "days": settings.DRAFT_DAYS,
        "dropped": request.session.get(DROPPED),
    }
    return render(request, "register/drafts/list.html", context)


@needs(*RIGHTS, names_nobody=True)
@require_POST
def draft_kept(request: SignedInRequest) -> HttpResponse:
    """Keep what is in the boxes of a form; the answer has the token of the session as it is."""
    path = request.POST.get("draft_for", "")
    match, statement = match_of(path), Statement.read(request)
    rights = getattr(match.func, "rights", ()) if match else ()
    if statement is None or match is None or not any(may(request.user, one) for one in rights):
        raise Http404
    patient = patient_of(match)
    if patient is not None and patient.site_id != request.user.site_id:
        raise Http404
    if sum(len(v) for vs in typing_of(request.POST).values() for v in vs) > LARGEST_CHARACTERS:
        words = "This is more than can be kept unfinished. Save it in parts."
        return JsonResponse({"words": words}, status=422)
    kept = keep_posted(request, request.user, statement, path)
    return JsonResponse({"words": "Typing kept." if kept else ""})


@needs(*RIGHTS, names_nobody=True)
@require_GET
def draft_token(request: SignedInRequest) -> HttpResponse:
    """Give a page that was open while its person signed in again the token that counts now."""
    return JsonResponse({"token": get_token(request)})


@needs(*RIGHTS, names_nobody=True)
@require_POST
def draft_dropped(request: SignedInRequest, draft_id: int) -> HttpResponse:
    """Throw one away; it can be taken back until the next one is thrown away."""
    draft = get_object_or_404(Draft, pk=draft_id, user=request.user)
    throw_away(request, draft, back=reverse("drafts"))
    return redirect("drafts")


@needs(*RIGHTS, names_nobody=True)
@require_POST
def draft_restored(request: SignedInRequest) -> HttpResponse:
    """Take back what was thrown away last."""
    dropped: dict[str, Any] | None = request.session.pop(DROPPED, None)
    if dropped is None:
        messages.info(request, "There is nothing left to take back.")
        return redirect("drafts")
    back = dropped.pop("back")
    draft_keep(user=request.user, **dropped)
    messages.success(request, "The unfinished entry is back.")
    return redirect(back)


def throw_away(request: SignedInRequest, draft: Draft, *, back: str) -> None:
    """Drop a draft of one's own and keep it for Undo, which leads to the address `back`."""
    kept = {name: getattr(draft, name) for name in ("form", "title", "address", "data")}
    request.session[DROPPED] = kept | {"back": back}
    draft_drop(user=request.user, form=draft.form)


def is_thrown_away(request: SignedInRequest, form: str) -> bool:
    """Whether the draft of this form is the one that Undo would bring back."""
    return bool(request.session.get(DROPPED, {}).get("form") == form)


def _line(request: SignedInRequest, draft: Draft) -> Unfinished | None:
    """Return what is told of a draft; None for a page that the person may no longer open."""
    match = match_of(draft.form)
    rights = getattr(match.func, "rights", ()) if match else ()
    if not any(may(request.user, one) for one in rights):
        return None
    patient = patient_of(match)
    if patient is not None and patient.site_id != request.user.site_id:
        return None
    return Unfinished(draft, draft.title or "An entry", str(patient or ""), resume_address(draft))
