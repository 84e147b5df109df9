"""What the sign-in library writes by itself has a name, too."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse

from register.history import acting
from register.history.middleware import SignInActor
from register.history.reading import changes_of_row
from register.models import Site
from tests.integration.people import make_user

pytestmark = pytest.mark.django_db


def visit(path: str, user: object, status: int = 200) -> None:
    """Answer a request by writing a row, as the library would."""

    def write(_request):
        Site.objects.create(name="Written", code="written")
        return HttpResponse(status=status)

    request = RequestFactory().get(path)
    request.user = user
    SignInActor(write)(request)


def last_change():
    return changes_of_row(Site.objects.get(code="written"))[-1]


def test_before_sign_in_the_page_itself_is_named():
    visit(reverse("account_login"), AnonymousUser())
    assert (last_change().actor, last_change().actor_id) == ("sign-in", None)


def test_after_sign_in_the_user_is_named():
    with acting("setup"):
        user = make_user()
    visit(reverse("mfa_index"), user)
    assert (last_change().actor, last_change().actor_id) == ("b.lindqvist", user.pk)


def test_a_page_that_failed_leaves_nothing_half_written():
    visit(reverse("account_login"), AnonymousUser(), status=500)
    assert not Site.objects.filter(code="written").exists()


@pytest.mark.parametrize("path", ["/", "/static/fonts/x.ttf", "/nowhere/at/all"])
def test_other_pages_get_no_name_from_here(path):
    with pytest.raises(Exception, match="needs an actor"):
        visit(path, AnonymousUser())
