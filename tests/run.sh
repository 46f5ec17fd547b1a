#!/usr/bin/env bash
# Restores, builds, checks the format and runs every test. The last line is "N passed, N failed"; the exit code is 0
# only when something passed and nothing failed.
set -uo pipefail
cd "$(dirname "$0")/.."
root=$PWD
. deploy/needs.sh

configuration=${CONFIGURATION:-Release}
results=$root/artifacts/tests
passed=0
failed=0
export DOTNET_CLI_TELEMETRY_OPTOUT=1 DOTNET_NOLOGO=1
export FABLINK_TEST_NOTES=$results/notes.txt

finish() {
    echo "$passed passed, $failed failed"
    [ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
    exit
}

# step WHAT COMMAND...: a step that fails counts as one failure.
step() {
    local what=$1; shift
    echo "== $what"
    "$@" && return 0
    echo "FAILED: $what"
    failed=$((failed + 1))
    return 1
}

needs() {
    need_dotnet && need setpriv util-linux && need node nodejs npm && need postgres postgresql && need chromium chromium-headless-shell
}

counter() { grep -o "<Counters [^>]*" "$1" | grep -o " $2=\"[0-9]*\"" | grep -o '[0-9]*'; }

# Names what was skipped, each with its reason.
skipped() {
    awk '
        /<UnitTestResult / { name = ""; if ($0 ~ /outcome="NotExecuted"/ && match($0, /testName="[^"]*"/)) name = substr($0, RSTART + 10, RLENGTH - 11) }
        name != "" && match($0, /<Message>[^<]*/) { print "Skipped: " name " - " substr($0, RSTART + 9, RLENGTH - 9); name = "" }
        name != "" && /<\/UnitTestResult>|\/>[[:space:]]*$/ { print "Skipped: " name; name = "" }' "$1"
}

# Names what failed, each with the first line of what it said; repeated at the very end, where a long log is still read.
failures=
failed_tests() {
    awk '
        /<UnitTestResult / { name = ""; if ($0 ~ /outcome="Failed"/ && match($0, /testName="[^"]*"/)) name = substr($0, RSTART + 10, RLENGTH - 11) }
        name != "" && match($0, /<Message>[^<]*/) { print "Failed: " name " - " substr($0, RSTART + 9, RLENGTH - 9); name = "" }
        name != "" && /<\/UnitTestResult>/ { print "Failed: " name; name = "" }' "$1" | cut -c1-400
}

run_tests() {
    local project=$1 name trx code=0 ok bad
    name=$(basename "$project" .csproj)
    trx=$results/$name.trx
    echo "== $name"
    dotnet test "$project" -c "$configuration" --no-build --nologo --verbosity quiet \
        --logger "trx;LogFileName=$name.trx" --logger "console;verbosity=minimal" --results-directory "$results" || code=$?
    if [ ! -f "$trx" ]; then
        echo "FAILED: $name left no results (exit code $code)"
        failed=$((failed + 1))
        return
    fi
    ok=$(counter "$trx" passed)
    bad=$(counter "$trx" failed)
    passed=$((passed + ok))
    failed=$((failed + bad))
    # A host that died, or a project in which nothing was found, must not look like success.
    if [ "$bad" -eq 0 ] && { [ "$code" -ne 0 ] || [ "$ok" -eq 0 ]; }; then
        echo "FAILED: $name ended with exit code $code after $ok passed tests"
        failed=$((failed + 1))
    fi
    skipped "$trx"
    failures+=$(failed_tests "$trx")$'\n'
}

rm -rf "$results"
mkdir -p "$results"
step "What has to be here" needs || finish
step "Restore, exactly the locked versions" dotnet restore FabLink.sln --locked-mode --nologo --verbosity quiet || finish
step "Build" dotnet build FabLink.sln -c "$configuration" --no-restore --nologo --verbosity quiet -clp:NoSummary || finish
step "Format" dotnet format FabLink.sln --verify-no-changes --no-restore --verbosity quiet
for project in tests/*.Tests/*.csproj; do run_tests "$project"; done
echo "$failures" | grep -v '^$'
[ -f "$FABLINK_TEST_NOTES" ] && sort -u "$FABLINK_TEST_NOTES"
finish
