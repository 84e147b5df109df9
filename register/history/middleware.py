"""Name the actor of what the sign-in library writes by itself."""

from collections.abc import Callable

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import Resolver404, resolve

from register.history import acting
from register.selectors.people import OWN_CHOICE

# Address names of the sign-in library; its writes have no service of ours around them.
SIGN_IN_NAMES = ("account_", "mfa_", "openid_connect_")
NOBODY_YET = "sign-in"


class SignInActor:
    """Run each sign-in page inside `acting`: as the user, or as `sign-in` before that."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not is_sign_in_page(request):
            return self.get_response(request)
        who = request.user if request.user.is_authenticated else NOBODY_YET
        with acting(who, OWN_CHOICE):
            response = self.get_response(request)
            if response.status_code >= 500:
                transaction.set_rollback(True)
        return response


def is_sign_in_page(request: HttpRequest) -> bool:
    """Tell by the address's name; static files and unknown addresses are not."""
    if request.path_info.startswith(settings.STATIC_URL):
        return False
    try:
        name = resolve(request.path_info).url_name or ""
    except Resolver404:
        return False
    return name.startswith(SIGN_IN_NAMES)
