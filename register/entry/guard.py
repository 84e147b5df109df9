"""The guard in front of every view that takes a form from a signed-in page."""

from collections.abc import Callable
from typing import Any, Final
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.views.decorators.csrf import requires_csrf_token

from register.entry.keeping import drop_of, keep_posted, resume_address, shown_with_draft
from register.entry.statement import FIELD, Statement
from register.models import User
from register.services import receipts

SAVED_BEFORE: Final = "This form was saved already. Nothing was saved twice."
UNSIGNED: Final = "The form came without saying which page it belongs to."
_OF_THE_PAGE: Final = {"csrfmiddlewaretoken", FIELD}
Handler = Callable[[HttpRequest], HttpResponse]


class EntryGuard:
    """See that a form counts once, for the right patient, and that no typing is lost.

    A view that must commits step by step carries `commits_by_itself`; its forms are
    checked as all others, and it has to refuse a second press by itself.
    """

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = shown_with_draft(request, self.get_response(request))
        return _for_script(request, response)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Answer instead of the view where a form must not reach it, or came before."""
        if request.method != "POST" or not getattr(view, "rights", ()):
            return None
        statement = Statement.read(request)
        if not request.user.is_authenticated:
            return _signed_out(request, statement)
        if statement is None:
            # Django's own test client sends none, as it sends no CSRF token.
            is_test = getattr(request, "_dont_enforce_csrf_checks", False)
            return None if is_test else refused(request, None, UNSIGNED)
        match = request.resolver_match
        if match is not None and (words := statement.objection(request, match)):
            return refused(request, statement, words)
        request.form_statement = request.POST[FIELD]  # type: ignore[attr-defined]
        if getattr(view, "commits_by_itself", False):
            return None
        return _once(request, statement, lambda: view(request, *args, **kwargs))


def _once(
    request: HttpRequest, statement: Statement, answer: Callable[[], HttpResponse]
) -> HttpResponse:
    """Let a form through unless the very same was saved before; its draft goes with the save."""
    content = {"path": request.path, "typed": _typed(request)}
    user: Any = request.user  # signed in: a form of nobody does not come this far
    key = receipts.receipt_key(statement.number, user, content)
    with transaction.atomic():
        earlier = receipts.receipt_of(key)
        if earlier is not None:
            messages.info(request, SAVED_BEFORE)
            return redirect(earlier.went_to or statement.page)
        before = receipts.newest_change()
        response = answer()
        went_to = response.headers.get("Location") or response.headers.get("HX-Redirect")
        if went_to and receipts.has_changed_since(before):
            receipts.receipt_give(key=key, user=user, went_to=went_to)
            drop_of(user, request.path)
    return response


def _typed(request: HttpRequest) -> dict[str, Any]:
    """Return what was typed and sent, without what the page says about itself."""
    typed: dict[str, Any] = {
        name: values for name, values in request.POST.lists() if name not in _OF_THE_PAGE
    }
    files = {name: [(one.name, one.size) for one in kept] for name, kept in request.FILES.lists()}
    return typed | ({"files": files} if files else {})


def _signed_out(request: HttpRequest, statement: Statement | None) -> HttpResponse | None:
    """Keep what was typed for whoever opened the page, and ask to sign in again.

    None leaves the answer to the view, which sends to the sign-in page as well.
    """
    author = User.objects.filter(pk=statement.user, is_active=True).first() if statement else None
    if author is None or statement is None or request.headers.get("HX-Request"):
        return None  # a page whose part is asked for stays as it is, with its typing
    draft = keep_posted(request, author, statement, request.POST.get("draft_for", ""))
    if draft is not None and "draft_for" not in request.POST:
        messages.info(
            request,
            "You have been signed out. Nothing was saved; what you typed is kept and comes back "
            "after you sign in.",
        )
    there = resume_address(draft) if draft else statement.page
    return redirect(f"{resolve_url(settings.LOGIN_URL)}?{urlencode({'next': there})}")


def refused(request: HttpRequest, statement: Statement | None, words: str) -> HttpResponse:
    """Say why a form was not saved, and keep its typing for whoever opened the page."""
    author = User.objects.filter(pk=statement.user).first() if statement else None
    draft = keep_posted(request, author, statement) if author and statement else None
    context = {
        "heading": "Nothing was saved",
        "lead": words,
        "is_kept": draft is not None,
        "is_own": author is not None and author.pk == request.user.pk,
        "resume_url": resume_address(draft) if draft else "",
        "page_url": statement.page if statement else "",
    }
    return render(request, "register/drafts/refused.html", context, status=409)


@requires_csrf_token
def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Give the form back to somebody who signed in again in another tab meanwhile."""
    statement = Statement.read(request) if request.method == "POST" else None
    if statement and not request.user.is_authenticated:
        answer = _signed_out(request, statement)
        if answer is not None:
            return _for_script(request, answer)
    if statement is None or statement.user != request.user.pk:
        return render(request, "403_csrf.html", status=403)
    response = refused(request, statement, "You signed in again after this page was opened.")
    response.status_code = 403
    return response


def _for_script(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Tell the script that keeps typing in its own language that signing in is needed."""
    is_sign_in = response.headers.get("Location", "").startswith(resolve_url(settings.LOGIN_URL))
    if is_sign_in and request.headers.get("Accept") == "application/json":
        return JsonResponse({"words": "You have been signed out."}, status=401)
    return response
