"""Who looked at which identifiable page. Nothing but ids, the page and a reason is kept."""

from register.models import AccessLog, Patient, User


def access_log(*, user: User, patient: Patient | None, page: str, reason: str = "") -> AccessLog:
    """Note that somebody opened a page. One INSERT; never the person's name or number."""
    return AccessLog.objects.create(user=user, patient=patient, page=page, reason=reason)
