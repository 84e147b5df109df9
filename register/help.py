"""Which words of help belong to a page: `templates/help/<name of the address>.html`.

base.html draws them as one folded panel on every page. A page that only takes
what is sent and comes back as another page shares that page's words.
"""

from functools import cache
from typing import Final

from django.template.exceptions import TemplateDoesNotExist
from django.template.loader import get_template
from django.urls import ResolverMatch

# Name of an address -> the name whose words it shares.
SHARED: Final = {
    "planned-level": "plan",
    "treated-level": "procedure",
    "implant-new": "procedure",
    "cement-new": "procedure",
    "leak-new": "procedure",
    "complication-new": "procedure",
    "laboratory-edit": "laboratory-new",
    "task-close": "patient-tasks",
    "reading-new": "reading-edit",
    "marking-new": "marking-edit",
    "marking-again": "marking-edit",
    "technique-new": "technique-edit",
    "stock-new": "stock-edit",
    "user-new": "user-edit",
    "theatre-session-edit": "theatre-session-new",
    "study-new": "study-edit",
    "referral-new": "referral-edit",
    "patient-new": "patient-edit",
    "mfa_authenticate": "mfa_index",
    "mfa_reauthenticate": "mfa_index",
    "mfa_activate_totp": "mfa_index",
    "mfa_deactivate_totp": "mfa_index",
    "mfa_view_recovery_codes": "mfa_index",
    "mfa_generate_recovery_codes": "mfa_index",
    "account_reauthenticate": "account_change_password",
}


def help_template(match: ResolverMatch | None) -> str:
    """Return the template with the words for a page; blank when there are none."""
    return help_named(match.url_name or "") if match else ""


@cache
def help_named(name: str) -> str:
    """Return the template with the words for the address of this name; blank without one."""
    for owner in (name, SHARED.get(name, name)):
        template = f"help/{owner}.html"
        try:
            get_template(template)
        except TemplateDoesNotExist:
            continue
        return template
    return ""
