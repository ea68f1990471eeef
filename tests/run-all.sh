#!/bin/sh
# Runs the test programs given as arguments and the command-line tests, as many at a
# time as there are cores (PLATEN_JOBS), and counts. A test program is cmocka's; a
# command-line test is a shell script. What a failed one said is shown, and what a test
# has counted itself ("COUNTED: 915 kills"). Long forms print rows of tables ("| ...").
set -u
if [ "${1:-}" = --one ]; then # folder for what is said, then the test
    log=$(mktemp "$2/XXXXXX")
    case $3 in *.sh) sh "$3" ;; *) "$3" ;; esac >"$log.said" 2>&1 || echo "$3" >"$log.failed"
    exit 0
fi
said=$(mktemp -d)
trap 'rm -rf "$said"' EXIT
{
    for t in "$@"; do echo "$t"; done
    for t in tests/cli/test_*.sh; do [ ! -f "$t" ] || echo "$t"; done
} | xargs -P "${PLATEN_JOBS:-$(nproc)}" -I{} sh "$0" --one "$said" {}

ran=$(find "$said" -name '*.said' | wc -l)
failed=$(find "$said" -name '*.failed' | wc -l)
for f in "$said"/*.failed; do
    [ -f "$f" ] || continue
    echo "FAILED: $(cat "$f")"
    cat "${f%.failed}.said"
done
[ -z "${PLATEN_LONG:-}" ] || grep -h '^| ' "$said"/*.said # rows of docs/validation.md
cat "$said"/*.said | sed -n -e 's/^COUNTED: /  /p' -e '/^SKIPPED:/p'
skipped=$(grep -l '^SKIPPED:' "$said"/*.said | wc -l)
echo
echo "$((ran - failed)) passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
