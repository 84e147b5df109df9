"""Files that are sent in, how their columns are read, and the theatre log they may bring."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from register.domain.vocabulary import FILE_KIND
from register.models.base import Record, choice, known, link, text, voiding


class FileImport(Record):
    """A file that was sent in: kept as it came, previewed, and written only on confirmation.

    `mapping` says which of its columns is read as what; `how_read` notes code page,
    separator and sheet. All that a confirmation wrote stands in the history under
    `transaction_id`, from which an undo is made. `left_by_undo` lists the rows that
    an undo left alone because somebody had edited them since.
    """

    site = link("Site", related_name="imports")
    kind = choice(FILE_KIND, blank=False, default="referrals")
    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    date_order = models.CharField(max_length=3, default="dmy")
    mapping = models.JSONField(default=dict, blank=True)
    how_read = models.JSONField(default=dict, blank=True)
    uploaded_by = link("User", related_name="imports")
    confirmed_by = link("User", null=True, blank=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    counts = models.JSONField(default=dict, blank=True)
    transaction_id = models.BigIntegerField(null=True, blank=True)
    undone_by = link("User", null=True, blank=True, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    left_by_undo = models.JSONField(default=list, blank=True)

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]
        constraints: ClassVar = [
            known("import", "kind", FILE_KIND, blank=False),
            models.CheckConstraint(
                condition=Q(confirmed_at=None, confirmed_by=None)
                | (~Q(confirmed_at=None) & ~Q(confirmed_by=None)),
                name="import_confirmed_by_a_person",
                violation_error_message="An import is confirmed by a named person.",
            ),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None)
                | (~Q(undone_at=None) & ~Q(undone_by=None) & ~Q(confirmed_at=None)),
                name="import_undone_by_a_person",
                violation_error_message="Only a confirmed import is undone, by a named person.",
            ),
            voiding("import"),
        ]

    def __str__(self) -> str:
        return self.file_name


class ColumnMapping(Record):
    """How a department reads the columns of one kind of file with one head.

    `head_digest` is SHA-256 of the column names as they came; `mapping` maps each of
    them to the name of our column, or to '' for a column that is not read.
    """

    site = link("Site", related_name="column_mappings")
    kind = choice(FILE_KIND, blank=False)
    head_digest = models.CharField(max_length=64)
    mapping = models.JSONField(default=dict)
    made_by = link("User", related_name="+")

    class Meta:
        constraints: ClassVar = [
            known("column_mapping", "kind", FILE_KIND, blank=False),
            models.UniqueConstraint(
                fields=["site", "kind", "head_digest"],
                condition=Q(voided_at=None),
                name="column_mapping_once",
                violation_error_message="The columns of such a file are mapped already.",
            ),
            voiding("column_mapping"),
        ]

    def __str__(self) -> str:
        return f"Columns of {self.get_kind_display()}"


class TheatreLogEntry(Record):
    """One line of the hospital's own theatre log: what was done, by its account.

    It is compared with the recorded procedures to tell how complete the register is;
    `procedure` is the one it was found to be, None when it has no counterpart, and
    `not_ours_because` says why it needs none. `settled_by` is who said by hand what it is,
    or that it stays open; None while nobody did: then numbers and day found it, or not.
    """

    site = link("Site", related_name="theatre_log")
    performed_on = models.DateField()
    reference = text(40, help_text="The log's own number of the line")
    hospital_number = text(24)
    nhs_number = text(10)
    family_name = text(80)
    given_name = text(80)
    procedure_words = text(200)
    procedure_code = text(24)
    operator_words = text(120)
    procedure = link("Procedure", null=True, blank=True, related_name="log_entries")
    not_ours_because = text(200)
    settled_by = link("User", null=True, blank=True, related_name="+")
    IS_BESIDE = True
    # As `found_as` in a query.
    FOUND: ClassVar = Q(
        procedure__isnull=False, procedure__voided_at=None, procedure__patient__voided_at=None
    )

    class Meta:
        ordering: ClassVar = ["performed_on", "pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(procedure=None) | Q(not_ours_because=""),
                name="log_entry_found_or_not_ours",
                violation_error_message=(
                    "A line is a recorded procedure, or it is none of this register; not both."
                ),
            ),
            models.CheckConstraint(
                condition=Q(not_ours_because="") | ~Q(settled_by=None),
                name="log_entry_not_ours_by_a_person",
                violation_error_message="That a line is none of this register is said by a person.",
            ),
            models.CheckConstraint(
                condition=~Q(hospital_number="") | ~Q(nhs_number=""),
                name="log_entry_names_a_patient",
                violation_error_message="Give the hospital number or the NHS Number.",
            ),
            models.UniqueConstraint(
                "site",
                Lower("reference"),
                condition=Q(voided_at=None) & ~Q(reference=""),
                name="log_entry_once_per_reference",
                violation_error_message="This line of the log is recorded already.",
            ),
            models.UniqueConstraint(
                fields=[
                    "site",
                    "performed_on",
                    "hospital_number",
                    "nhs_number",
                    "procedure_words",
                    "procedure_code",
                ],
                condition=Q(voided_at=None, reference=""),
                name="log_entry_once",
                violation_error_message="This line of the log is recorded already.",
            ),
            voiding("log_entry"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["site", "performed_on"], name="log_entry_by_day"),
        ]

    @property
    def found_as(self) -> Any:
        """The procedure that it is; None when that, or its patient, was set aside since."""
        one = self.procedure
        stands = one is not None and one.voided_at is None and one.patient.voided_at is None
        return one if stands else None

    @property
    def operation(self) -> tuple[Any, ...]:
        """What all lines of one operation share: its procedure, or else its day and patient."""
        if found := self.found_as:
            return (found.pk,)
        return (self.performed_on, self.hospital_number.casefold(), self.nhs_number)

    @property
    def is_open(self) -> bool:
        """Whether nothing says what it is."""
        return self.found_as is None and not self.not_ours_because

    @property
    def is_left_open(self) -> bool:
        """Whether a person said that it stays open."""
        return self.settled_by_id is not None and self.procedure_id is None and self.is_open

    def __str__(self) -> str:
        return f"{self.procedure_words or 'procedure'}, {self.performed_on:%d %b %Y}"
