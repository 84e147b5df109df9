"""Every address of our own with rows behind it, found by the resolver."""

import re
from dataclasses import dataclass
from typing import Any

from django.test import Client
from django.urls import ResolverMatch, get_resolver, resolve, reverse

from planning.models import PlannedLevel
from register.models import Draft, Patient, RecordTransfer, TreatedLevel, User
from register.permissions import may
from register.reads import keep_reason
from tests.browser.objects import World
from tests.web.test_access_matrix import OPEN, patterns

NOBODYS = 987654321  # a number that no row has
BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@dataclass(frozen=True)
class RealPage:
    """One address of a world, and what its view declares."""

    name: str
    address: str
    rights: tuple[str, ...]
    is_noted: bool
    match: ResolverMatch


def real_pages(world: World) -> list[RealPage]:
    """Return every page that declares rights. A new part of an address needs a value here."""
    found = []
    for route, entry in patterns(get_resolver()):
        if entry.name in OPEN:
            continue
        names = re.findall(r"<\w+:(\w+)>", route)
        values = {one: value_of(str(entry.name), one, world) for one in names}
        address = reverse(str(entry.name), kwargs=values)
        view: Any = entry.callback
        found.append(
            RealPage(str(entry.name), address, view.rights, view.is_noted, resolve(address))
        )
    return found


def value_of(page: str, part: str, world: World) -> Any:
    """Return the value of one part of an address."""
    site = world.people["nurse"].site
    if part == "level_id":
        if page == "planned-level":
            return PlannedLevel.objects.filter(plan__patient__site=site).first().pk
        return TreatedLevel.objects.filter(procedure__patient__site=site).first().pk
    if page.startswith("record-") and part in ("kind", "record_id"):
        return {"kind": "fracture", "record_id": world.values["fracture_id"]}[part]
    if page == "referral-import-empty":
        return {"kind": "referrals", "form": "csv"}[part]
    if page.startswith("move") and part in ("kind", "record_id"):
        return {"kind": "referral", "record_id": world.values["referral_id"]}[part]
    if part in ("other_id", "to_id"):
        others = Patient.objects.filter(site=site).exclude(pk=world.values["patient_id"])
        return others.first().pk
    if part == "transfer_id":
        made = RecordTransfer.objects.filter(to_patient__site=site).first()
        return made.pk if made else NOBODYS
    if part == "draft_id":
        draft = Draft.objects.filter(user=world.people["nurse"]).first()
        return draft.pk if draft else NOBODYS
    return world.values.get(part) or {"direction": "up"}[part]


def client_of(user: User, patients: list[Patient] | None = None) -> Client:
    """Return a signed-in client; the lead's has given a reason for each of the patients."""
    client = Client()
    client.force_login(user, backend=BACKEND)
    if patients and not may(user, "see_patients"):
        session = client.session
        for patient in patients:
            keep_reason(_Holder(session), patient, REASON)  # type: ignore[arg-type]
        session.save()
    return client


REASON = "Review of a complaint about waiting"


@dataclass
class _Holder:
    """What keeps a reason needs of a request."""

    session: Any
