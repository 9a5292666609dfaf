#!/bin/sh
# Run once by the PostgreSQL image, in a cluster that has just been made: the two roles, their passwords, the database.
set -eu
psql --set=ON_ERROR_STOP=1 --quiet --dbname=template1 --file="${ROLES_SQL:-/clinic/roles.sql}"
psql --set=ON_ERROR_STOP=1 --quiet --dbname=template1 --set=owner="$OWNER_PASSWORD" --set=app="$APP_PASSWORD" <<'SQL'
ALTER ROLE clinic_owner CREATEDB PASSWORD :'owner'; -- a backup is proven by restoring it into a database of its own
ALTER ROLE clinic_app PASSWORD :'app';
SQL
psql --set=ON_ERROR_STOP=1 --quiet --dbname=postgres --command='CREATE DATABASE clinic OWNER clinic_owner'
