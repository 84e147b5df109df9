"""Records given another patient: what was moved, why, and whether it went back."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from register.domain.vocabulary import TRANSFER_KIND
from register.models.base import Record, choice, known, link, voiding


class RecordTransfer(Record):
    """A merge of two records of one person, or one record moved to its right patient.

    `rows` lists every row that was changed, as {"table", "key", "version", "was",
    "now"}: its columns before and after, and its version afterwards; an undo gives
    them back. After a merge the record `from_patient` is set aside.
    `left_by_undo` lists the rows that a person has to look at after an undo, as
    {"table", "key", "words", "why"}.
    """

    kind = choice(TRANSFER_KIND, blank=False)
    from_patient = link("Patient", related_name="transfers_out")
    to_patient = link("Patient", related_name="transfers_in")
    reason = models.CharField(max_length=300)
    done_by = link("User", related_name="+")
    done_at = models.DateTimeField()
    rows = models.JSONField(default=list)
    undone_by = link("User", null=True, blank=True, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    left_by_undo = models.JSONField(default=list, blank=True)

    class Meta:
        ordering: ClassVar = ["-done_at", "-pk"]
        constraints: ClassVar = [
            known("transfer", "kind", TRANSFER_KIND, blank=False),
            models.CheckConstraint(
                condition=~Q(from_patient=F("to_patient")),
                name="transfer_between_two_patients",
                violation_error_message="Choose another patient: this is the same one.",
            ),
            models.CheckConstraint(
                condition=~Q(reason=""),
                name="transfer_with_reason",
                violation_error_message="Say why the records belong together.",
            ),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None)
                | (~Q(undone_at=None) & ~Q(undone_by=None)),
                name="transfer_undone_by_a_person",
                violation_error_message="An undo has a name and a time.",
            ),
            voiding("transfer"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.done_at:%d %b %Y}"
