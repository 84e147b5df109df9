"""Where the studies of a patient count the levels differently."""

from register.domain.numbering import Numbering, disagreements
from register.models import Patient, Study


def numbering_of(study: Study) -> Numbering:
    """Return what a study says of its levels."""
    return Numbering(
        study=study.pk,
        transitional=study.transitional,
        ribs=study.rib_bearing_bodies,
        agreed=bool(study.numbering_note),
    )


def open_disagreements(patient: Patient) -> list[tuple[Study, Study]]:
    """Return the pairs of live studies that number differently and wait for a person. One query."""
    studies = {one.pk: one for one in Study.objects.live().filter(patient=patient)}
    found = disagreements([numbering_of(study) for study in studies.values()])
    return [(studies[one], studies[other]) for one, other in found]


def differing_from(study: Study) -> list[Study]:
    """Return the other live studies of the patient that number differently. One query."""
    mine = numbering_of(study)
    others = Study.objects.live().filter(patient=study.patient_id).exclude(pk=study.pk)
    return [other for other in others if mine.differs_from(numbering_of(other))]
