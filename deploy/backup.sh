#!/usr/bin/env bash
# Writes one backup of a running portal: backup.sh TARGET-FOLDER
#   FABLINK_DATA, FABLINK_DATABASE   see database.sh
#   FABLINK_KEEP                     how many backups to keep in the target folder (default 14)
set -euo pipefail
umask 077
target=${1:?Name the folder that takes the backups.}
. "$(dirname "$0")/database.sh"

name=fablink-$(date -u +%Y%m%dT%H%M%SZ)
mkdir -p "$target"
aside=$target/.$name
trap 'rm -rf "$aside"' EXIT
mkdir "$aside"

# The database first: a file is stored before the row that names it is committed and never changes, so the files taken
# afterwards hold everything that this dump speaks of.
pg_dump -Fc --file "$aside/database.dump" "$FABLINK_DATABASE"
mkdir -p "$data/files"
tar -C "$data" --exclude=files/incoming -cf "$aside/files.tar" files
(cd "$aside" && sha256sum database.dump files.tar >SHA256SUMS)
sync "$aside"/* || true
mv "$aside" "$target/$name"
trap - EXIT
echo "$target/$name"

find "$target" -mindepth 1 -maxdepth 1 -type d -name 'fablink-*' | sort -r | tail -n "+$((${FABLINK_KEEP:-14} + 1))" | while read -r old; do rm -rf "$old"; done
