-- Sets up a new PostgreSQL server that is reached over a network, from the official image's init folder or by hand:
--     BALLAST_OWNER_PASSWORD=... BALLAST_APP_PASSWORD=... psql -U postgres -f database.sql
-- For psql 15 or newer, which reads the passwords from the environment.

\set ON_ERROR_STOP on
\getenv owner_password BALLAST_OWNER_PASSWORD
\getenv app_password BALLAST_APP_PASSWORD

\connect template1
\ir roles.sql
ALTER ROLE ballast_owner PASSWORD :'owner_password';
ALTER ROLE ballast_app PASSWORD :'app_password';

\connect postgres
CREATE DATABASE ballast OWNER ballast_owner;
