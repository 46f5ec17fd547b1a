#!/usr/bin/env bash
# Puts a backup back into a running portal: restore.sh BACKUP-FOLDER
# The present database is kept beside it under another name, which is printed. Restart the portal afterwards.
#   FABLINK_DATA, FABLINK_DATABASE   see database.sh
set -euo pipefail
umask 077
backup=$(realpath "${1:?Name the backup to put back (a folder fablink-...).}")
. "$(dirname "$0")/database.sh"

(cd "$backup" && sha256sum --check --quiet SHA256SUMS)

# The dump grants to the portal's roles; the portal gives them their passwords when it starts.
for role in fablink_app fablink_jobs fablink_signin; do
    if [ -z "$(sql "" "select 1 from pg_roles where rolname = '$role'")" ]; then
        sql "" "create role $role login nosuperuser nocreatedb nocreaterole noinherit nobypassrls"
    fi
done

stamp=$(date -u +%Y%m%d%H%M%S)
present=$(sql "" 'select current_database()')
fresh=${present}_restored_$stamp
kept=${present}_before_$stamp
sql postgres "create database \"$fresh\""
if ! pg_restore --exit-on-error --dbname "$FABLINK_DATABASE dbname=$fresh" "$backup/database.dump"; then
    sql postgres "drop database \"$fresh\" with (force)"
    echo "The backup could not be read; nothing was changed." >&2
    exit 1
fi

# Files are named by their content: adding those of the backup disturbs none that are here.
mkdir -p "$data"
tar -C "$data" --skip-old-files -xf "$backup/files.tar"

# Nobody may come in between while the names change.
sql postgres "alter database \"$present\" allow_connections false"
sql postgres "select pg_terminate_backend(pid) from pg_stat_activity where datname = '$present'" >/dev/null
for try in 1 2 3 4 5 6 7 8 9 10; do
    if sql postgres "alter database \"$present\" rename to \"$kept\"" 2>/dev/null; then break; fi
    if [ "$try" = 10 ]; then
        sql postgres "alter database \"$present\" allow_connections true"
        sql postgres "drop database \"$fresh\" with (force)"
        echo "Somebody stays connected to $present; nothing was changed." >&2
        exit 1
    fi
    sleep 0.5
done
sql postgres "alter database \"$fresh\" rename to \"$present\""
sql postgres "alter database \"$kept\" allow_connections true"

echo "Restored. The database as it was before is kept as $kept; drop it when all is well. Restart the portal now."
