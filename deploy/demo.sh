#!/usr/bin/env bash
# Starts the portal with the demo's build, shops and people, on http://localhost:5080, until Ctrl-C.
#   FABLINK_PORT    another port
#   FABLINK_DATA    another data folder (default ~/.local/share/fablink, as root /var/lib/fablink)
#   --check         starts it on a free port with a data folder of its own, walks through the main job, ends everything,
#                   and exits with what the walk found
set -euo pipefail
root=$(cd "$(dirname "$0")/.." && pwd)
. "$root/deploy/needs.sh"

check=false
case "${1:-}" in
    "") ;;
    --check) check=true ;;
    *) sed -n '2,6s/^# \{0,1\}//p' "$0"; exit 2 ;;
esac

export DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1
published=$root/artifacts/demo
walkthrough=$root/artifacts/walkthrough
portal=

# up_to_date FOLDER SOURCE...: nothing in the sources is newer than what was built from them.
up_to_date() {
    local stamp=$1/.built; shift
    [ -f "$stamp" ] && [ -z "$(find "$@" "$root"/Directory.*.props -newer "$stamp" -type f \
        -not -path '*/bin/*' -not -path '*/obj/*' -not -path '*/wwwroot/lib/*' -print -quit)" ]
}

build() {
    if ! up_to_date "$published" "$root/src"; then
        echo "Building the portal ..."
        dotnet restore "$root/src/FabLink.Portal" --locked-mode --nologo --verbosity quiet
        rm -rf "$published"
        dotnet publish "$root/src/FabLink.Portal" -c Release --no-restore -o "$published" --nologo --verbosity quiet
        touch "$published/.built"
    fi
    if $check && ! up_to_date "$walkthrough" "$root/tests/FabLink.Walkthrough"; then
        dotnet restore "$root/tests/FabLink.Walkthrough" --locked-mode --nologo --verbosity quiet
        rm -rf "$walkthrough"
        dotnet publish "$root/tests/FabLink.Walkthrough" -c Release --no-restore -o "$walkthrough" --nologo --verbosity quiet
        touch "$walkthrough/.built"
    fi
}

# Whether somebody listens on this port of this machine.
listening() { (exec 3<>"/dev/tcp/127.0.0.1/$1") 2>/dev/null; }

free_port() {
    local candidate
    while candidate=$((20000 + RANDOM % 20000)); listening "$candidate"; do :; done
    echo "$candidate"
}

healthy() {
    (
        exec 3<>"/dev/tcp/127.0.0.1/$port" || exit 1
        printf 'GET /health HTTP/1.0\r\nHost: localhost\r\n\r\n' >&3
        IFS= read -r -t 5 line <&3 && [[ $line == *" 200 "* ]]
    ) 2>/dev/null
}

start() {
    if listening "$port"; then
        echo "Port $port is taken: end what listens there, or set FABLINK_PORT." >&2
        return 1
    fi
    # When this script is killed outright, the system tells the portal, and the portal ends its database.
    local with_us=()
    setpriv --pdeathsig TERM true 2>/dev/null && with_us=(setpriv --pdeathsig TERM --)
    mkdir -p "$data"
    (
        cd "$published"
        export ASPNETCORE_ENVIRONMENT=Production ASPNETCORE_URLS="http://${FABLINK_LISTEN:-127.0.0.1}:$port"
        export Data__Folder="$data" Demo__Seed=true Calculations__Anonymous=true
        exec "${with_us[@]}" dotnet FabLink.Portal.dll
    ) >>"$data/portal.log" 2>&1 </dev/null &
    portal=$!

    local deadline=$((SECONDS + 120))
    until healthy; do
        if ! kill -0 "$portal" 2>/dev/null || [ "$SECONDS" -ge "$deadline" ]; then
            echo "The portal did not start; the end of $data/portal.log:" >&2
            tail -n 25 "$data/portal.log" >&2
            return 1
        fi
        sleep 0.2
    done
}

# The portal is asked to end; it stops its PostgreSQL before it goes.
stop() {
    [ -n "$portal" ] || return 0
    kill -TERM "$portal" 2>/dev/null || true
    # A second signal interrupts wait, not the portal's work.
    while kill -0 "$portal" 2>/dev/null; do wait "$portal" 2>/dev/null || true; done
    portal=
}

leave() {
    local code=$?
    trap - EXIT
    trap '' INT TERM HUP
    stop
    if $check; then rm -rf "$data"; fi
    exit "$code"
}

need_dotnet
need setpriv util-linux
need node nodejs npm
need postgres postgresql
build

if $check; then
    data=$(mktemp -d "${TMPDIR:-/tmp}/fablink-check-XXXXXX")
    port=$(free_port)
else
    if [ "$(id -u)" -eq 0 ]; then data=${FABLINK_DATA:-/var/lib/fablink}; else data=${FABLINK_DATA:-$HOME/.local/share/fablink}; fi
    port=${FABLINK_PORT:-5080}
fi
case "$(realpath -m "$data")/" in
    "$root"/*) echo "The data folder $data lies inside the repository: choose another (FABLINK_DATA)." >&2; exit 1 ;;
esac
data=$(realpath -m "$data")

trap leave EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP
start

if $check; then
    dotnet "$walkthrough/FabLink.Walkthrough.dll" "http://127.0.0.1:$port" "$data"
    exit
fi

echo
echo "FabLink runs on http://localhost:$port  (data in $data, log in $data/portal.log)"
if [ -f "$data/demo-sign-ins.txt" ]; then cat "$data/demo-sign-ins.txt"; fi
echo "Ctrl-C ends the portal and its database."
wait "$portal" || { code=$?; echo "The portal ended by itself ($code); see $data/portal.log" >&2; exit "$code"; }
