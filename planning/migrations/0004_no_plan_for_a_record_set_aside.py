"""A plan is a row of its patient's own, like those of the facts."""

from importlib import import_module

from django.db import migrations

facts = import_module("register.migrations.0009_no_row_for_a_record_set_aside")


class Migration(migrations.Migration):
    """Nothing is planned for a record that was made one with another."""

    dependencies = [
        ("planning", "0003_unusual_values_keep_their_reason"),
        ("register", "0009_no_row_for_a_record_set_aside"),
    ]

    operations = [facts.trigger("planning_procedureplan")]
