"""What every request passes: clean input, nothing kept in caches, a second factor."""

from collections.abc import Callable

from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect
from django.urls import reverse

Handler = Callable[[HttpRequest], HttpResponse]
ACCOUNT_PREFIX = "/account/"


def _unclean(text: str) -> bool:
    """A NUL or a lone surrogate cannot be stored by the database (reported widely as a 500)."""
    return "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text)


def refuse_unstorable_text(get_response: Handler) -> Handler:
    """Answer 400 to text that no database can hold, before any view sees it."""

    def middleware(request: HttpRequest) -> HttpResponse:
        parts = [request.path, *request.GET.keys()]
        parts += [value for values in request.GET.lists() for value in values[1]]
        if request.method == "POST" and not _is_upload(request):
            parts += list(request.POST.keys())
            parts += [value for values in request.POST.lists() for value in values[1]]
        if any(_unclean(part) for part in parts):
            return HttpResponseBadRequest(
                "The text contains characters that cannot be stored. Go back, remove them, and "
                "send it again.",
                content_type="text/plain",
            )
        return get_response(request)

    return middleware


def _is_upload(request: HttpRequest) -> bool:
    return (request.content_type or "") == "multipart/form-data" and bool(request.FILES)


def never_keep(get_response: Handler) -> Handler:
    """Forbid every cache to keep a page: after signing out, Back must show nothing."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if not request.path.startswith(settings.STATIC_URL):
            response["Cache-Control"] = "no-store"
        return response

    return middleware


def require_second_factor(get_response: Handler) -> Handler:
    """Outside the demo, let nobody past the sign-in pages without a second factor."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if (
            settings.SECOND_FACTOR_REQUIRED
            and request.user.is_authenticated
            and not request.path.startswith((ACCOUNT_PREFIX, settings.STATIC_URL))
            and not is_mfa_enabled(request.user)
        ):
            return redirect(reverse("mfa_activate_totp"))
        return get_response(request)

    return middleware


def client_address(request: HttpRequest) -> str:
    """The address under which failed tries are counted.

    Only the connection itself counts: a forwarded header is the sender's word. A
    proxy in front must hand the address on as the connection's (see README).
    """
    return str(request.META.get("REMOTE_ADDR", ""))
