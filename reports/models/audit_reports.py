"""Reports as they were issued: what was asked, the rows, the document, all frozen together."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from register.models.base import Record, link, text, voiding


class AuditReport(Record):
    """One issued audit. The stored file is the record; the rows let anybody redo it."""

    site = link("register.Site", related_name="audit_reports")
    title = models.CharField(max_length=160)
    first_day = models.DateField()
    last_day = models.DateField()
    spec = models.JSONField()
    rows = models.BinaryField(help_text="Pseudonymised input rows, compressed JSON")
    rows_sha256 = models.CharField(max_length=64)
    pdf = models.BinaryField()
    pdf_sha256 = models.CharField(max_length=64)
    protocol = link("register.Protocol", null=True, blank=True, related_name="audit_reports")
    rulesets = models.JSONField(default=list, blank=True)
    code_version = text(60)
    lock_sha256 = text(64)
    issued_by = link("register.User", related_name="audit_reports")
    issued_at = models.DateTimeField()
    comment = models.TextField(blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-last_day", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="audit_last_day_after_first",
                violation_error_message="The last day is before the first day.",
            ),
            voiding("audit"),
        ]

    def __str__(self) -> str:
        return self.title
