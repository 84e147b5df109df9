"""The protocol in force: every number with its unit and where it comes from."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from planning.selectors.protocols import protocol_view
from planning.services.protocols import in_force
from register.permissions import SignedInRequest, needs


@needs("see_protocol")
@require_GET
def protocol(request: SignedInRequest) -> HttpResponse:
    """Show the department's protocol of today."""
    current = in_force(request.user.site, localdate())
    context = {"view": protocol_view(current), "protocol": current.protocol}
    return render(request, "planning/protocol.html", context)
