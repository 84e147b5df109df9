"""A reference of the theatre log is one, in whatever case a file writes it."""

from django.db import migrations, models
from django.db.models import Q
from django.db.models.functions import Lower


class Migration(migrations.Migration):
    dependencies = [("register", "0012_earlier_procedures")]

    operations = [
        migrations.RemoveConstraint(
            model_name="theatrelogentry", name="log_entry_once_per_reference"
        ),
        migrations.AddConstraint(
            model_name="theatrelogentry",
            constraint=models.UniqueConstraint(
                "site",
                Lower("reference"),
                condition=Q(voided_at=None) & ~Q(reference=""),
                name="log_entry_once_per_reference",
                violation_error_message="This line of the log is recorded already.",
            ),
        ),
    ]
