"""What the department has and has agreed: techniques, stock, its protocol, open tasks, imports."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from register.domain.vocabulary import ROUTE, STOCK_KIND, TASK_KIND
from register.models.base import Record, choice, known, link, number, text, voiding, within


class Technique(Record):
    """A way of treating, by its generic name, with its approval in this department."""

    site = link("Site", related_name="techniques")
    name = models.CharField(max_length=120)
    route = choice(ROUTE, blank=False)
    is_new_here = models.BooleanField(default=False)
    approving_committee = text(160)
    approved_on = models.DateField(null=True, blank=True)
    conditions = text(400)
    supervised_cases = models.PositiveSmallIntegerField(null=True, blank=True)
    review_after_cases = models.PositiveSmallIntegerField(null=True, blank=True)
    review_on = models.DateField(null=True, blank=True)
    stopping_rule = text(400)
    typical_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes_per_further_level = models.PositiveSmallIntegerField(null=True, blank=True)
    operators: Any = models.ManyToManyField("User", blank=True, related_name="techniques")
    withdrawn_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["name"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["site", "name"],
                name="technique_once_per_site",
                violation_error_message="A technique of this name exists already.",
            ),
            known("technique", "route", ROUTE, blank=False),
            models.CheckConstraint(
                condition=Q(is_new_here=False)
                | (~Q(approving_committee="") & ~Q(approved_on=None)),
                name="technique_new_needs_approval",
                violation_error_message="A technique that is new here needs committee and date.",
            ),
            voiding("technique"),
        ]

    def __str__(self) -> str:
        return self.name


class StockItem(Record):
    """One lot of one size on the shelf, by generic name.

    `diameter_mm` and `length_mm` are the outer size as it goes through the pedicle; the
    `needs_…` columns are the supplier's own table and go before any arithmetic.
    """

    site = link("Site", related_name="stock_items")
    kind = choice(STOCK_KIND, blank=False)
    name = models.CharField(max_length=120)
    size_label = text(40)
    gtin = text(14)
    lot = text(20)
    expires_on = models.DateField(null=True, blank=True)
    quantity = models.PositiveSmallIntegerField(default=0)
    reorder_at = models.PositiveSmallIntegerField(null=True, blank=True)
    recalled_on = models.DateField(null=True, blank=True)
    mri_statement = text(300)
    diameter_mm = number(3, 1)
    length_mm = number(4, 1)
    needs_isthmus_mm = number(3, 1)
    needs_height_mm = number(3, 1)
    needs_depth_mm = number(3, 1)
    most_depth_mm = number(3, 1)

    class Meta:
        ordering: ClassVar = ["kind", "name", "size_label", "expires_on", "pk"]
        # Possible ranges are wide on purpose: common practice, no source.
        constraints: ClassVar = [
            within("stock", "diameter_mm", 1, 20, "The diameter in mm"),
            within("stock", "length_mm", 1, 400, "The length in mm"),
            within("stock", "needs_isthmus_mm", 1, 30, "The least isthmus in mm"),
            within("stock", "needs_height_mm", 1, 60, "The least height of the body in mm"),
            within("stock", "needs_depth_mm", 5, 60, "The least depth of the body in mm"),
            within("stock", "most_depth_mm", 5, 60, "The largest depth of the body in mm"),
            models.CheckConstraint(
                condition=Q(needs_depth_mm=None)
                | Q(most_depth_mm=None)
                | Q(most_depth_mm__gte=models.F("needs_depth_mm")),
                name="stock_depth_in_order",
                violation_error_message="The largest depth must not be below the least.",
            ),
            known("stock", "kind", STOCK_KIND, blank=False),
            models.UniqueConstraint(
                fields=["site", "gtin", "lot"],
                condition=~Q(gtin="") & Q(voided_at=None),
                name="stock_lot_once",
                violation_error_message="This lot is already in stock: change its quantity.",
            ),
            voiding("stock"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.size_label}".strip()


class Protocol(Record):
    """A dated, approved set of parameters: a full frozen copy with the kind of each source.

    `values` is what the loader in register.domain.protocol wrote; `digest` is
    SHA-256 over rule-set digest and values. An old row is never changed.
    """

    site = link("Site", related_name="protocols")
    name = models.CharField(max_length=120)
    starts_on = models.DateField()
    values = models.JSONField()
    ruleset_id = models.CharField(max_length=60)
    ruleset_digest = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)
    proposed_by = link("User", null=True, blank=True, related_name="+")
    approved_by = link("User", null=True, blank=True, related_name="+")
    approved_on = models.DateField(null=True, blank=True)
    reason = text(400)

    class Meta:
        ordering: ClassVar = ["-starts_on", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(approved_by=None)
                | Q(proposed_by=None)
                | ~Q(approved_by=models.F("proposed_by")),
                name="protocol_approved_by_another",
                violation_error_message="Who proposed a protocol cannot approve it.",
            ),
            voiding("protocol"),
        ]

    def __str__(self) -> str:
        return self.name


class Task(Record):
    """A test, result or specimen that somebody must see; closed only by a named person."""

    patient = link("Patient", related_name="tasks")
    kind = choice(TASK_KIND, blank=False)
    title = models.CharField(max_length=200)
    owner = link("User", related_name="tasks")
    due_on = models.DateField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = link("User", null=True, blank=True, related_name="+")
    action_taken = text(400)

    class Meta:
        ordering: ClassVar = ["due_on", "pk"]
        constraints: ClassVar = [
            known("task", "kind", TASK_KIND, blank=False),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, action_taken="")
                | (~Q(closed_at=None) & ~Q(closed_by=None) & ~Q(action_taken="")),
                name="task_closed_with_name_and_action",
                violation_error_message="To close it, say who saw it and what was done.",
            ),
            voiding("task"),
        ]

    def __str__(self) -> str:
        return self.title
