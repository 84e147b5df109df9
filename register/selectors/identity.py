"""The identity strip of a single-patient page."""

from django.utils.timezone import localdate

from register.domain.identity import Identity, identity_of
from register.models import Patient, Referral


def newest_referral(patient: Patient) -> Referral | None:
    """The newest live referral, whose allergies stand in the strip; None before the first."""
    return Referral.objects.live().filter(patient=patient).order_by("-referred_on", "-pk").first()


def identity_for(patient: Patient) -> Identity:
    """Who this page is about, as of today. One query."""
    return identity_of(patient, newest_referral(patient), localdate())
