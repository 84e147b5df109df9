import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """A person may say which procedure a line of the log is, or why it is none of ours."""

    dependencies = [("register", "0010_user_names_once_in_any_case")]

    operations = [
        migrations.AddField(
            model_name="theatrelogentry",
            name="not_ours_because",
            field=models.CharField(blank=True, default="", max_length=200),
        ),
        migrations.AddField(
            model_name="theatrelogentry",
            name="settled_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="theatrelogentry",
            constraint=models.CheckConstraint(
                condition=Q(procedure=None) | Q(not_ours_because=""),
                name="log_entry_found_or_not_ours",
                violation_error_message=(
                    "A line is a recorded procedure, or it is none of this register; not both."
                ),
            ),
        ),
        migrations.AddConstraint(
            model_name="theatrelogentry",
            constraint=models.CheckConstraint(
                condition=Q(not_ours_because="") | ~Q(settled_by=None),
                name="log_entry_not_ours_by_a_person",
                violation_error_message=(
                    "That a line is none of this register is said by a person."
                ),
            ),
        ),
    ]
