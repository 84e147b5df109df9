"""The `csrf_token` tag of the register: every form also says whose page it is on."""

from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from register.entry.statement import FIELD, Statement

register = template.Library()


@register.simple_tag(takes_context=True)
def csrf_token(context: Any) -> SafeString:
    """Write the usual token and, for somebody signed in, the form's statement.

    A page that comes back after a refusal repeats the statement it was sent with:
    it still is the page that the person opened.
    """
    token = context.get("csrf_token")
    if not token or token == "NOTPROVIDED":
        return SafeString("")
    usual = format_html('<input type="hidden" name="csrfmiddlewaretoken" value="{}">', token)
    request = context.get("request")
    if request is None or not getattr(request, "user", None) or not request.user.is_authenticated:
        return usual
    told = getattr(request, "form_statement", None)
    if told is None:
        made = Statement.of(request, str(context.get("heading") or ""))
        told = made.signed()
        request.form_statement = told
    return usual + format_html('<input type="hidden" name="{}" value="{}">', FIELD, told)
