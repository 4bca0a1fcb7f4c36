-- The two roles, and what every database is born with. Run as a superuser in template1, before any database is made;
-- running it again changes nothing. It sets no password: see database.sql for servers that are reached over a network.

DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ballast_owner') THEN
        CREATE ROLE ballast_owner;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ballast_app') THEN
        CREATE ROLE ballast_app;
    END IF;
END
$$;

-- Owns the databases and their tables; used for migrations, backup and restore only.
ALTER ROLE ballast_owner WITH LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEROLE NOREPLICATION CREATEDB;
-- What the application and the tests connect as: owns nothing, so row-level security holds for it.
ALTER ROLE ballast_app WITH LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEROLE NOREPLICATION NOCREATEDB;
-- Lets the owner end the application's connections, without which a database is neither copied nor dropped.
GRANT ballast_app TO ballast_owner;

CREATE EXTENSION IF NOT EXISTS pg_trgm;
CREATE EXTENSION IF NOT EXISTS unaccent;
CREATE EXTENSION IF NOT EXISTS btree_gist;

-- Whatever the owner makes, the application may use; a migration that wants a table append-only takes rights back.
ALTER DEFAULT PRIVILEGES FOR ROLE ballast_owner GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO ballast_app;
ALTER DEFAULT PRIVILEGES FOR ROLE ballast_owner GRANT USAGE, SELECT ON SEQUENCES TO ballast_app;
