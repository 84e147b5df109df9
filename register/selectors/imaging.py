"""Studies with what was read and measured at each level."""

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from register.domain.levels import above, below, order
from register.models import Fracture, Measurement, Patient, Reading, Site, Study, User


@dataclass(frozen=True, slots=True)
class LevelSeen:
    """The newest reading of a level in one study, with its newest measurement (None without)."""

    reading: Reading
    measurement: Measurement | None

    @property
    def level(self) -> str:
        """The level code."""
        return self.reading.level


def studies_of_site(site: Site) -> QuerySet[Study]:
    """The live studies of a site."""
    return Study.objects.live().filter(patient__site=site).select_related("patient")


def readings_of_site(site: Site) -> QuerySet[Reading]:
    """The live readings of a site."""
    rows = Reading.objects.live().filter(study__patient__site=site, study__voided_at=None)
    return rows.select_related("study__patient", "observer", "fracture")


def levels_seen(study: Study) -> dict[str, LevelSeen]:
    """Return what was seen at each level of a study, from the head down. Two queries.

    Where two people read a level, or one twice, the newest reading with a
    measurement counts for the drawing; a second reading made unseen changes none.
    """
    live = Measurement.objects.live().filter(marking__repeats=None)
    live = live.order_by("-measured_on", "-pk")
    readings = (
        Reading.objects.live()
        .filter(study=study)
        .select_related("observer")
        .prefetch_related(Prefetch("measurements", live, to_attr="measured"))
        .order_by("-read_on", "-pk")
    )
    found: dict[str, LevelSeen] = {}
    for reading in readings:
        measurement = reading.measured[0] if reading.measured else None
        there = found.get(reading.level)
        if there is None or (there.measurement is None and measurement is not None):
            found[reading.level] = LevelSeen(reading, measurement)
    return dict(sorted(found.items(), key=lambda pair: order(pair[0])))


def own_measurement(reading: Reading) -> Measurement | None:
    """Return the newest live measurement of a reading."""
    rows = Measurement.objects.live().filter(reading=reading)
    return rows.order_by("-measured_on", "-pk").first()


def measurement_by(study: Study, level: str, observer: User) -> Measurement | None:
    """Return an observer's newest live measurement of a level of a study."""
    rows = Measurement.objects.live().filter(
        reading__study=study,
        reading__level=level,
        reading__observer=observer,
        reading__voided_at=None,
    )
    return rows.order_by("-measured_on", "-pk").first()


def neighbours(level: str) -> list[str]:
    """Return the levels next to a level, the upper one first."""
    return [near for near in (above(level), below(level)) if near is not None]


def fractured_levels(patient: Patient) -> set[str]:
    """Return the levels of a patient that have a fracture, old or new."""
    return set(Fracture.objects.live().filter(patient=patient).values_list("level", flat=True))


def observers(site: Site) -> QuerySet[User]:
    """The people of a site who read images."""
    rows = User.objects.filter(site=site, is_active=True, role__in=["consultant", "nurse"])
    return rows.order_by("last_name", "first_name", "pk")
