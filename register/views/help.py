"""The words of the register, and the first steps: hidden and brought back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from register.domain.glossary import GLOSSARY
from register.permissions import SignedInRequest, needs
from register.services.people import first_steps_hide


@needs("see_protocol")
@require_GET
def words(request: SignedInRequest) -> HttpResponse:
    """Every word that the register uses in a sense of its own."""
    return render(request, "register/words.html", {"groups": GLOSSARY})


@needs("see_protocol")
@require_POST
def first_steps(request: SignedInRequest) -> HttpResponse:
    """Hide the first steps on one's own start page, or bring them back."""
    hidden = request.POST.get("show") != "yes"
    first_steps_hide(user=request.user, hidden=hidden)
    if hidden:
        messages.success(
            request, "First steps hidden. “All words of the register” shows them again."
        )
    return redirect("home")
