"""A row entered in the very moment in which its patient's record is made one with another."""

from django.db import migrations

# The key share lock waits for a merge that is going on, and then reads what it left.
FUNCTION = """
CREATE FUNCTION register_patient_is_live() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
    gone_at timestamptz;
BEGIN
    SELECT voided_at INTO gone_at FROM register_patient WHERE id = NEW.patient_id FOR KEY SHARE;
    IF gone_at IS NOT NULL THEN
        RAISE EXCEPTION 'This record was set aside: nothing is added to it.'
            USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END
$body$
"""
TRIGGER = """
CREATE TRIGGER patient_is_live BEFORE INSERT OR UPDATE OF patient_id ON {table}
    FOR EACH ROW WHEN (NEW.voided_at IS NULL) EXECUTE FUNCTION register_patient_is_live()
"""
TABLES = (
    "register_referral",
    "register_fracture",
    "register_study",
    "register_procedure",
    "register_review",
    "register_laboratoryresult",
    "register_bonedensity",
    "register_task",
    "register_patientphone",
)


def trigger(table: str) -> migrations.RunSQL:
    """Return the operation for one table that names its patient."""
    return migrations.RunSQL(
        TRIGGER.format(table=table), f"DROP TRIGGER patient_is_live ON {table}"
    )


class Migration(migrations.Migration):
    """Nothing is left behind by a merge: a row that comes too late is refused."""

    dependencies = [("register", "0008_receipts_lead_back")]

    operations = [
        migrations.RunSQL(FUNCTION, "DROP FUNCTION register_patient_is_live()"),
        *(trigger(table) for table in TABLES),
    ]
