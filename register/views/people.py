"""Accounts: who may sign in, and as what. Kept by the administrator."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from register.forms.catalogue import PassphraseForm, PersonForm
from register.forms.people import SecondFactorResetForm
from register.models import User
from register.permissions import SignedInRequest, needs
from register.selectors.catalogue import people_of
from register.selectors.people import has_second_factor
from register.services import people as writing
from register.views.saving import save


@needs("manage_users")
@require_GET
def users(request: SignedInRequest) -> HttpResponse:
    """Everybody with an account in this department."""
    context = {"people": people_of(request.user.site)}
    return render(request, "register/catalogue/people.html", context)


@needs("manage_users")
@require_http_methods(["GET", "POST"])
def user_new(request: SignedInRequest) -> HttpResponse:
    """Make an account with a first passphrase."""
    form = PersonForm(request.POST or None, person=None)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"Account {form.cleaned_data['username']} made. Tell the person the passphrase.",
            lambda: writing.user_create(site=request.user.site, user=request.user, **form.values()),
        )
        if saved:
            return redirect("users")
    return _page(request, form, None)


@needs("manage_users")
@require_http_methods(["GET", "POST"])
def user_edit(request: SignedInRequest, user_id: int) -> HttpResponse:
    """Change a role, or close and open an account; it counts at the person's next request."""
    person = _person(request, user_id)
    form = PersonForm(request.POST or None, person=person)
    if form.is_valid():
        try:
            saved = save(
                request,
                form,
                f"Account {person.username} saved.",
                lambda: writing.user_change(
                    person=person,
                    stamp=form.cleaned_data["stamp"],
                    user=request.user,
                    **form.values(),
                ),
            )
        except writing.AccountChanged:
            form.show_conflict(_person(request, user_id))
        else:
            if saved:
                return redirect("users")
    return _page(request, form, person)


@needs("manage_users")
@require_http_methods(["GET", "POST"])
def user_passphrase(request: SignedInRequest, user_id: int) -> HttpResponse:
    """Set a passphrase for somebody who forgot theirs."""
    person = _person(request, user_id)
    form = PassphraseForm(request.POST or None, person=person)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"New passphrase for {person.username} set. Tell the person.",
            lambda: writing.user_passphrase(
                person=person, passphrase=form.cleaned_data["passphrase"], user=request.user
            ),
        )
        if saved:
            _keep_own_session(request, person)
            return redirect("users")
    context = {"form": form, "heading": f"New passphrase for {person}"}
    context |= {"back": "users", "back_words": "People"}
    status = 422 if form.is_bound else 200
    return render(request, "register/catalogue/form.html", context, status=status)


@needs("manage_users")
@require_POST
def user_sessions(request: SignedInRequest, user_id: int) -> HttpResponse:
    """End every session of a person, for example after a lost computer; not the one in use here."""
    person = writing.user_end_sessions(person=_person(request, user_id), user=request.user)
    _keep_own_session(request, person)
    others = "all your other sessions" if person == request.user else f"all sessions of {person}"
    messages.success(request, f"Ended: {others}.")
    return redirect("user-edit", person.pk)


@needs("manage_users")
@require_http_methods(["GET", "POST"])
def user_second_factor(request: SignedInRequest, user_id: int) -> HttpResponse:
    """Take a lost second factor away, with the reason; 404 for oneself and where there is none."""
    person = _person(request, user_id)
    if person == request.user or not has_second_factor(person):
        raise Http404
    form = SecondFactorResetForm(request.POST or None, person=person)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"Second factor of {person.username} taken away. It is set up anew at the next "
            "sign-in, and the person is told why.",
            lambda: writing.second_factor_reset(
                person=person, reason=form.cleaned_data["reason"], user=request.user
            ),
        )
        if saved:
            return redirect("user-edit", person.pk)
    context = {"form": form, "person": person}
    status = 422 if form.is_bound else 200
    return render(request, "register/catalogue/people_second_factor.html", context, status=status)


def _keep_own_session(request: SignedInRequest, person: User) -> None:
    """Let the administrator who changed his or her own account stay signed in here."""
    if person.pk == request.user.pk:
        update_session_auth_hash(request, person)


def _person(request: SignedInRequest, user_id: int) -> User:
    return get_object_or_404(people_of(request.user.site), pk=user_id)


def _page(request: SignedInRequest, form: PersonForm, person: User | None) -> HttpResponse:
    context = {
        "form": form,
        "heading": f"Account {person.username}" if person else "New account",
        "back": "users",
        "back_words": "People",
    }
    status = 422 if form.is_bound else 200
    if person is None:
        return render(request, "register/catalogue/form.html", context, status=status)
    context |= {
        "person": person,
        "is_own": person == request.user,
        "has_second_factor": has_second_factor(person),
    }
    return render(request, "register/catalogue/people_account.html", context, status=status)
