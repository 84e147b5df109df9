"""Where a signed-in person starts, and the sign-in page with its brake on guessing."""

from typing import Any

from allauth.account.views import LoginView
from allauth.mfa.totp.views import deactivate_totp
from axes.decorators import axes_dispatch, axes_form_invalid
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.utils.http import urlencode

from register.adapters import gave_a_code_lately
from register.config.single_sign_on import PROVIDER
from register.models import User
from register.permissions import SignedInRequest, may
from register.selectors.people import has_second_factor

# The first page a person may open is where he or she starts.
START_PAGES = (
    ("follow_up", "nurse", "follow-up-due"),
    ("see_patients", "", "waiting"),
    ("see_audit", "", "audits"),
    ("manage_catalogue", "", "techniques"),
)


@method_decorator(axes_dispatch, name="dispatch")
@method_decorator(axes_form_invalid, name="form_invalid")
class SignIn(LoginView):
    """The library's sign-in with the counter of failed tries around it."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Offer the hospital's own sign-in where there is one."""
        context: dict[str, Any] = super().get_context_data(**kwargs)
        if provider := settings.SINGLE_SIGN_ON:
            url = reverse("openid_connect_login", args=[PROVIDER])
            context["single_sign_on"] = {"name": provider.name, "url": url}
        return context


@login_required
def change_device(request: SignedInRequest) -> HttpResponse:
    """Remove the device of the second factor, after a code of that very device."""
    if not has_second_factor(request.user):
        return redirect("mfa_activate_totp")
    if not gave_a_code_lately(request):
        wanted = urlencode({"next": request.path})
        return redirect(f"{reverse('mfa_reauthenticate')}?{wanted}")
    return deactivate_totp(request)


@login_required
def home(request: SignedInRequest) -> HttpResponse:
    """Send each person to the page the day starts with."""
    if page := start_page(request.user):
        return redirect(page)
    return render(request, "register/no_role.html", status=403)


def start_page(user: User) -> str:
    """Return the name of the page a person's day starts with; blank without a role."""
    return next(
        (
            page
            for right, only_role, page in START_PAGES
            if may(user, right) and only_role in ("", user.role)
        ),
        "",
    )


def no_sign_up(request: HttpRequest) -> HttpResponse:
    """The sign-in library asks for this address by name; there is nothing behind it."""
    raise Http404


def locked_out(
    request: HttpRequest,
    original: HttpResponse | None = None,
    credentials: dict[str, str] | None = None,
) -> HttpResponse:
    """Say the same to everybody who tried too often, whether the account exists or not."""
    return render(request, "account/locked_out.html", status=429)


def typed_username(request: HttpRequest, credentials: dict[str, str] | None = None) -> str:
    """The name under which failed tries are counted.

    In small letters, as accounts are found: each other spelling of a name would
    otherwise be worth five more tries.
    """
    name = (credentials or {}).get("username") or request.POST.get("login", "")
    return name.strip().lower()
