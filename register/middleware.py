"""What every request passes: clean input, nothing kept in caches, a session that still holds."""

import time
from collections.abc import Callable
from ipaddress import ip_address
from typing import Any, Final

from allauth.account.authentication import get_authentication_records
from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django.utils.http import urlencode

from register.sessions import BEGAN

Handler = Callable[[HttpRequest], HttpResponse]
SIGN_IN_PREFIX: Final = "/account/"
# What a session may open before it gave a code; everything else waits for it.
BEFORE_THE_CODE: Final = {
    "account_login", "account_logout", "account_inactive", "account_reauthenticate",
    "mfa_authenticate", "mfa_reauthenticate", "mfa_activate_totp",
    "openid_connect_login", "openid_connect_callback",
}  # fmt: skip
DEVICES: Final = (
    "accelerometer", "camera", "display-capture", "geolocation", "gyroscope", "hid",
    "magnetometer", "microphone", "midi", "payment", "serial", "usb",
)  # fmt: skip
REDIRECTS: Final = (301, 302, 303)
NO_DEVICES: Final = ", ".join(f"{device}=()" for device in DEVICES)


def _unclean(text: str) -> bool:
    """A NUL or a lone surrogate cannot be stored by the database (reported widely as a 500)."""
    return "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text)


def refuse_unstorable_text(get_response: Handler) -> Handler:
    """Answer 400 to text that no database can hold, before any view sees it."""

    def middleware(request: HttpRequest) -> HttpResponse:
        parts = [request.path, *request.GET.keys()]
        parts += [value for values in request.GET.lists() for value in values[1]]
        if request.method == "POST":
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


def never_keep(get_response: Handler) -> Handler:
    """Forbid caches to keep a page, other sites to embed it, and pages to use devices.

    After signing out, Back must show nothing.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if not request.path.startswith(settings.STATIC_URL):
            response["Cache-Control"] = "no-store"
        response["Cross-Origin-Resource-Policy"] = "same-origin"
        response["Permissions-Policy"] = NO_DEVICES
        return response

    return middleware


def no_page_in_a_fragment(get_response: Handler) -> Handler:
    """Never let a whole page answer a fragment's request.

    Where signing in is needed first, the fragment gets 401 and the page stays as it is,
    with what was typed. Any other redirect becomes one of the whole page.
    """

    def middleware(request: Any) -> HttpResponse:
        response = get_response(request)
        if not request.htmx or response.status_code not in REDIRECTS:
            return response
        where = response["Location"]
        instead = HttpResponse(status=401 if where.startswith(SIGN_IN_PREFIX) else 204)
        if instead.status_code == 204:
            instead["HX-Redirect"] = where
        instead.cookies = response.cookies
        return instead

    return middleware


def end_long_sessions(get_response: Handler) -> Handler:
    """Sign somebody out whose session is older than its limit, however busy it was.

    A session without a beginning counts as too old.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            age = time.time() - request.session.get(BEGAN, 0)
            if not 0 <= age < settings.SESSION_LONGEST:
                logout(request)
                messages.info(request, "You were signed in for twelve hours. Sign in again.")
        return get_response(request)

    return middleware


def require_second_factor(get_response: Handler) -> Handler:
    """Outside the demo, let nobody past the sign-in without a second factor.

    It is this session that has to have proved it: another one, open with the
    passphrase alone, gains nothing when the person sets the factor up elsewhere.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        if (
            settings.SECOND_FACTOR_REQUIRED
            and request.user.is_authenticated
            and not _opens_before_the_code(request)
            and not proved_second_factor(request)
        ):
            if is_mfa_enabled(request.user):
                wanted = request.get_full_path() if request.method == "GET" else "/"
                return redirect(f"{reverse('mfa_reauthenticate')}?{urlencode({'next': wanted})}")
            return redirect("mfa_activate_totp")
        return get_response(request)

    return middleware


def _opens_before_the_code(request: HttpRequest) -> bool:
    if request.path.startswith(settings.STATIC_URL):
        return True
    try:
        return resolve(request.path_info).url_name in BEFORE_THE_CODE
    except Resolver404:
        return False


def proved_second_factor(request: HttpRequest) -> bool:
    """Whether this session gave a code; a provider that asks for one by itself counts, too."""
    user: Any = request.user
    methods = {record["method"] for record in get_authentication_records(request, user)}
    provider = settings.SINGLE_SIGN_ON
    if provider and provider.has_second_factor and "socialaccount" in methods:
        return True
    return "mfa" in methods and is_mfa_enabled(user)


def client_address(request: HttpRequest) -> str:
    """The address under which failed tries are counted.

    The connection's own: a forwarded header is the sender's word. Behind a proxy that
    is the proxy, the same for everybody; the one header that the proxy itself writes
    may be named in REGISTER_ADDRESS_HEADER. What is no single address counts for nothing.
    """
    told = request.headers.get(settings.ADDRESS_HEADER, "") if settings.ADDRESS_HEADER else ""
    try:
        return str(ip_address(told.strip()))
    except ValueError:
        return str(request.META.get("REMOTE_ADDR", ""))
