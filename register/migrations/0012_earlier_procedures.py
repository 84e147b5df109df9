"""Procedures from a list of those done before the register was there."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """Nobody signed such a procedure here, and whoever operated may have no account."""

    dependencies = [("register", "0011_lines_of_a_theatre_log_settled")]

    operations = [
        migrations.AddField(
            model_name="procedure",
            name="operator_words",
            field=models.CharField(
                blank=True,
                default="",
                help_text="Operator, by the name in the list",
                max_length=120,
            ),
        ),
        migrations.AlterField(
            model_name="procedure",
            name="operator",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="operations",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RemoveConstraint(model_name="procedure", name="procedure_state_known"),
        migrations.AddConstraint(
            model_name="procedure",
            constraint=models.CheckConstraint(
                condition=Q(state__in=["open", "signed", "earlier"]),
                name="procedure_state_known",
                violation_error_message="Choose one of the listed answers for state.",
            ),
        ),
        migrations.RemoveConstraint(model_name="procedure", name="procedure_signed_by_a_person"),
        migrations.AddConstraint(
            model_name="procedure",
            constraint=models.CheckConstraint(
                condition=Q(state__in=["open", "earlier"], signed_by=None, signed_at=None)
                | (Q(state="signed") & ~Q(signed_by=None) & ~Q(signed_at=None)),
                name="procedure_signed_by_a_person",
                violation_error_message="A signed record has a name and a time.",
            ),
        ),
        migrations.AddConstraint(
            model_name="procedure",
            constraint=models.CheckConstraint(
                condition=~Q(operator=None) | Q(state="earlier"),
                name="procedure_names_its_operator",
                violation_error_message="Say who operated.",
            ),
        ),
    ]
