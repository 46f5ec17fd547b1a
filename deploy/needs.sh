# Sourced by demo.sh and tests/run.sh: what has to be on the machine, and how it gets there.
# On Debian as root a missing package is installed; anybody else is told what to install.

have_dotnet() { command -v dotnet >/dev/null && dotnet --list-sdks | grep -q '^10\.'; }
have_node() { command -v node >/dev/null && command -v npm >/dev/null; }
# The one without a window is half again as fast; any other serves as well.
have_chromium() { [ -n "${FABLINK_CHROMIUM:-}" ] || command -v chromium-headless-shell >/dev/null || command -v chromium >/dev/null || command -v chromium-browser >/dev/null; }
have_postgres() {
    [ -n "${FABLINK_POSTGRES_BIN:-}" ] || command -v pg_ctl >/dev/null || compgen -G '/usr/lib/postgresql/*/bin/pg_ctl' >/dev/null
}
have_setpriv() { [ "$(id -u)" -ne 0 ] || command -v setpriv >/dev/null; }

# need NAME PACKAGE...: makes sure that have_NAME holds.
need() {
    local name=$1; shift
    "have_$name" && return 0
    if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null; then
        echo "Installing $* ..."
        apt-get update -qq -o Acquire::Retries=3 && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq -o Acquire::Retries=3 --no-install-recommends "$@" >/dev/null
        hash -r
        "have_$name" && return 0
    fi
    echo "Missing: $name. Install it first (Debian: sudo apt-get install $*)." >&2
    return 1
}

need_dotnet() {
    have_dotnet && return 0
    echo "Missing: the .NET SDK 10 (dotnet). Install it as https://learn.microsoft.com/dotnet/core/install/linux says." >&2
    return 1
}
