# Sourced by backup.sh and restore.sh: how to reach the database as its owner, and with which programs.
#   FABLINK_DATABASE   connection string of the owner as key=value pairs (host=... dbname=... user=...), not as a URL;
#                      without it the private cluster in FABLINK_DATA

if [ "$(id -u)" -eq 0 ]; then data=${FABLINK_DATA:-/var/lib/fablink}; else data=${FABLINK_DATA:-$HOME/.local/share/fablink}; fi

if [ -z "${FABLINK_DATABASE:-}" ]; then
    pid_file=$data/postgres/data/postmaster.pid
    if [ ! -f "$pid_file" ]; then
        echo "There is no running private cluster in $data: start the portal, or set FABLINK_DATABASE." >&2
        exit 1
    fi
    PGPASSWORD=$(cat "$data/postgres.password")
    export PGPASSWORD
    FABLINK_DATABASE="host=127.0.0.1 port=$(sed -n 4p "$pid_file") user=postgres dbname=fablink"
fi

# sql DATABASE STATEMENT: runs it; an empty DATABASE means the portal's own.
sql() { psql -X -q -A -t -v ON_ERROR_STOP=1 "$FABLINK_DATABASE${1:+ dbname=$1}" -c "$2"; }

# PostgreSQL's programs of the server's own major version, where the machine has several.
command -v psql >/dev/null || { echo "Missing: psql and pg_dump (Debian: apt-get install postgresql-client)." >&2; exit 1; }
version_folder=/usr/lib/postgresql/$(($(sql "" 'show server_version_num') / 10000))/bin
if [ -x "$version_folder/pg_dump" ]; then PATH=$version_folder:$PATH; fi
