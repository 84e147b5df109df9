"""What a request brings beside its form: a version, and the page that was asked for first."""

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def version_sent(request: HttpRequest) -> int:
    """Return the version that a button was pressed on; 0, which no record has, for nonsense."""
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 0


def page_asked_for(request: HttpRequest, otherwise: str) -> str:
    """Return the address of this register that was asked for first; an address elsewhere never."""
    wanted = request.GET.get("next", "")
    ours = wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None)
    return wanted if ours else otherwise
