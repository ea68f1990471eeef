#!/bin/sh
# Runs fuzzers: tests/fuzz.sh SECONDS TARGET... Each begins with its seeds and finds and what
# earlier runs gathered under build/fuzz/gathered; a line a target says how many inputs were
# tried. Ends with 1 when one of them found something.
set -u
build=${PLATEN_BUILD:?} top=${PLATEN_TOP:?}
seconds=$1
shift
failed=0
# a leak of the arena shows as one; the rest is a crash like any other
export ASAN_OPTIONS=allocator_may_return_null=1:detect_leaks=1:quarantine_size_mb=8
export UBSAN_OPTIONS=print_stacktrace=1:halt_on_error=1
for target in "$@"; do
    gathered=$build/gathered/$target finds=$build/finds/$target
    mkdir -p "$gathered" "$finds"
    dict=
    [ -f "$top/tests/fuzz/seeds/$target.dict" ] && dict=-dict=$top/tests/fuzz/seeds/$target.dict
    held="$top/tests/fuzz/seeds/$target"
    [ -d "$top/tests/fuzz/finds/$target" ] && held="$held $top/tests/fuzz/finds/$target"
    # shellcheck disable=SC2086 # a list of folders without blanks
    "$build/fuzzers/$target" -max_total_time="$seconds" -max_len=16384 -timeout=10 -rss_limit_mb=2048 \
        -print_final_stats=1 -artifact_prefix="$finds/" $dict "$gathered" $held >"$build/$target.log" 2>&1
    status=$?
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$build/$target.log")
    cover=$(sed -n 's/.* cov: \([0-9]*\) .*/\1/p' "$build/$target.log" | tail -n 1)
    printf '%-14s %10s inputs in %s s, %s edges seen' "$target" "${runs:-no}" "$seconds" "${cover:-?}"
    if [ $status -eq 0 ]; then
        echo
    else
        failed=1
        echo ": FOUND SOMETHING, see $build/$target.log and $finds"
        tail -n 30 "$build/$target.log"
    fi
done
exit $failed
