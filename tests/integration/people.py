"""Rows that database tests start from; every value is invented."""

from datetime import date

from register.models import Patient, Site, User


def make_site() -> Site:
    """Return the only department."""
    return Site.objects.get_or_create(code="harrowmere", defaults={"name": "Harrowmere Spine"})[0]


def make_user(username: str = "b.lindqvist") -> User:
    """Return a consultant; call it inside `acting`."""
    user = User(username=username, role="consultant", site=make_site())
    user.set_password("not a real one")
    user.save()
    return user


def make_patient(number: str = "H000001", **fields: object) -> Patient:
    """Return a patient; call it inside `acting`."""
    values = {"family_name": "Quillfeather", "given_name": "Ada", "date_of_birth": date(1948, 5, 3)}
    return Patient.objects.create(site=make_site(), hospital_number=number, **(values | fields))
