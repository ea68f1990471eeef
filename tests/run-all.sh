#!/bin/sh
# Runs the test programs given as arguments, then the command-line tests, and
# counts. A test program is cmocka's; a command-line test is a shell script.
set -u
passed=0 failed=0 skipped=0
run() {
    if "$@" >"$log" 2>&1; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "FAILED: $*"
        cat "$log"
    fi
    grep -h '^SKIPPED:' "$log" && skipped=$((skipped + 1))
}
log=$(mktemp)
trap 'rm -f "$log"' EXIT
for t in "$@"; do run "$t"; done
for t in tests/cli/test_*.sh; do
    [ -f "$t" ] && run sh "$t"
done
echo
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
