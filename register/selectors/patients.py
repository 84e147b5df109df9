"""Finding patients of a site."""

import re
from datetime import date

from django.db.models import Max, Q, QuerySet

from register.domain.names import similar_names
from register.domain.nhs_number import digits_of
from register.models import Fracture, Patient, PatientPhone, Referral, Site
from register.selectors.set_aside import known_under


def patients_found(site: Site, text: str, *, by_number_only: bool = False) -> QuerySet[Patient]:
    """Patients whom a text may mean, in the order of their names.

    A text of digits is looked up as NHS Number and hospital number, blanks and
    dashes apart; any other by every word as the beginning of a family or given
    name, and as hospital number. `by_number_only` finds nobody by name. The number of
    a record that was made one with another finds the one that stands.
    """
    meant = Q(hospital_number__iexact=text.strip())
    digits = digits_of(text)
    if digits.isdigit():
        meant |= Q(nhs_number=digits) | Q(hospital_number=digits)
    elif not by_number_only:
        meant |= _by_name(text)
    if also := [found.pk for found in known_under(site, text)]:
        meant |= Q(pk__in=also)
    return (
        Patient.objects.live()
        .filter(meant, site=site)
        .annotate(last_referred_on=Max("referrals__referred_on", filter=_LIVE_REFERRAL))
        .order_by("family_name", "given_name", "date_of_birth", "pk")
    )


_LIVE_REFERRAL = Q(referrals__voided_at=None)


def _by_name(text: str) -> Q:
    """Every word begins a name, or a part of one: "beck" does not find Ashbeck, "o'neil" O'Neil."""
    meant = Q()
    for word in re.split(r"[\s,]+", text.strip()):
        if word:
            starts = Q()
            for name in ("family_name", "given_name"):
                starts |= Q(**{f"{name}__istartswith": word})
                starts |= Q(**{f"{name}__icontains": f" {word}"})
                starts |= Q(**{f"{name}__icontains": f"-{word}"})
            meant &= starts
    return meant


def with_similar_name(people: list[Patient]) -> set[int]:
    """Return the ids of those whose name resembles another's in the same list."""
    return similar_names((p.pk, p.family_name, p.given_name) for p in people)


def similar_among(found: QuerySet[Patient]) -> set[int]:
    """Return the ids of those of a whole search whose names resemble each other, in one query."""
    return similar_names(found.order_by().values_list("pk", "family_name", "given_name"))


def patient_with_number(site: Site, field: str, number: str, but_not: int | None) -> Patient | None:
    """Return who else has this hospital number or NHS Number; None when nobody, or when blank."""
    if not number:
        return None
    there = Patient.objects.live().filter(site=site, **{f"{field}__iexact": number})
    found = (there if but_not is None else there.exclude(pk=but_not)).first()
    also = known_under(site, number) if found is None else []
    return found or next((one for one in also if one.pk != but_not), None)


def namesakes(site: Site, family_name: str, given_name: str, born: date) -> list[Patient]:
    """Return patients born on the same day whose name resembles this one."""
    there = list(Patient.objects.live().filter(site=site, date_of_birth=born))
    typed = [(0, family_name, given_name)]
    return [p for p in there if similar_names([*typed, (p.pk, p.family_name, p.given_name)])]


def phones_of(patient: Patient) -> QuerySet[PatientPhone]:
    """The live telephone numbers, in the order in which they were given."""
    return PatientPhone.objects.live().filter(patient=patient).order_by("pk")


def referrals_of(patient: Patient) -> QuerySet[Referral]:
    """The live referrals, newest first."""
    return Referral.objects.live().filter(patient=patient).order_by("-referred_on", "-pk")


def fractures_at(patient: Patient, level: str) -> QuerySet[Fracture]:
    """The live fractures of a level, the newest first."""
    return Fracture.objects.live().filter(patient=patient, level=level).order_by("-pk")
