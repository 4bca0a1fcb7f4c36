"""Row-level security, same-club keys, and the privileges of the application's role."""

from django.db import migrations

from athletes.tenancy import APPLICATION_ROLE, IS_CLOCK, THIS_TOKEN, THIS_USER, ProtectTenantTables

GRANTS = f"""
GRANT USAGE ON SCHEMA public TO {APPLICATION_ROLE};
GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {APPLICATION_ROLE};
GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {APPLICATION_ROLE};
ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO {APPLICATION_ROLE};
ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT USAGE ON SEQUENCES TO {APPLICATION_ROLE};
REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {APPLICATION_ROLE};
"""
UNGRANTS = f"""
ALTER DEFAULT PRIVILEGES IN SCHEMA public REVOKE ALL ON TABLES FROM {APPLICATION_ROLE};
ALTER DEFAULT PRIVILEGES IN SCHEMA public REVOKE ALL ON SEQUENCES FROM {APPLICATION_ROLE};
REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {APPLICATION_ROLE};
"""

# The audit log only grows: no privilege to change it, and a trigger for whoever has one.
APPEND_ONLY = f"""
REVOKE UPDATE, DELETE, TRUNCATE ON athletes_auditentry FROM {APPLICATION_ROLE};
CREATE FUNCTION refuse_audit_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the audit log is append-only';
END $$;
CREATE TRIGGER audit_is_append_only BEFORE UPDATE OR DELETE ON athletes_auditentry
    FOR EACH ROW EXECUTE FUNCTION refuse_audit_change();
"""
NOT_APPEND_ONLY = f"""
DROP TRIGGER audit_is_append_only ON athletes_auditentry;
DROP FUNCTION refuse_audit_change();
GRANT UPDATE, DELETE ON athletes_auditentry TO {APPLICATION_ROLE};
"""


class Migration(migrations.Migration):
    dependencies = [("athletes", "0001_initial")]

    operations = [
        migrations.RunSQL(GRANTS, UNGRANTS),
        ProtectTenantTables(
            "Club",
            "Coach",
            "Squad",
            "Race",
            "Rider",
            "Venue",
            "KitItem",
            "Opening",
            "RegularRide",
            "BikeHours",
            "Absence",
            "RosterImport",
            "Consent",
            "Screening",
            "ClinicianLimit",
            "MovementCheck",
            "BodyReport",
            "SymptomReport",
            "PainBaseline",
            "FollowUp",
            "FollowUpEntry",
            "Delivery",
            "Suppression",
            "Link",
            "AuditEntry",
            extra={
                # An account finds its own memberships, and the clubs they name, before a club is chosen.
                "Coach": [("own_account", "SELECT", f"user_id = {THIS_USER}")],
                "Club": [
                    (
                        "own_account",
                        "SELECT",
                        f"id IN (SELECT club_id FROM athletes_coach WHERE user_id = {THIS_USER})",
                    ),
                    ("clock", "SELECT", IS_CLOCK),
                ],
                # A link is found by the hash of its token.
                "Link": [("by_token", "SELECT", f"token_hash = {THIS_TOKEN}")],
                # The clock looks for due deliveries of all clubs; it reads and changes them inside each club.
                "Delivery": [("clock", "SELECT", IS_CLOCK)],
            },
        ),
        migrations.RunSQL(APPEND_ONLY, NOT_APPEND_ONLY),
    ]
