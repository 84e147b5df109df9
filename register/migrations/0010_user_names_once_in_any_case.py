"""Two user names that differ by capitals alone would both find no account at the sign-in."""

from django.db import migrations, models
from django.db.models.functions import Lower


class Migration(migrations.Migration):
    dependencies = [("register", "0009_no_row_for_a_record_set_aside")]

    operations = [
        migrations.AddConstraint(
            model_name="user",
            constraint=models.UniqueConstraint(
                Lower("username"),
                name="user_name_once",
                violation_error_message="This user name is taken. Choose another.",
            ),
        ),
    ]
