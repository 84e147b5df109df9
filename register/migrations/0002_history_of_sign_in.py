from django.db import migrations

from register.history.operations import HistoryTrigger


class Migration(migrations.Migration):
    """Changes of second factors and addresses are history too; their secrets are not."""

    dependencies = [
        ("register", "0001_initial"),
        ("account", "0009_emailaddress_unique_primary_email"),
        ("mfa", "0003_authenticator_type_uniq"),
    ]

    operations = [
        HistoryTrigger("mfa_authenticator", redact=("data",)),
        HistoryTrigger("account_emailaddress"),
    ]
