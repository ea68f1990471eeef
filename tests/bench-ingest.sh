#!/bin/sh
# How fast a long record is read: processor time of whole processes, one core, beside what
# else reads such a file on this machine. Not a test: nothing here fails for being slow.
# INGEST_ROWS: rows of the record, 20 million when not stated (some 350 MB, in TMPDIR).
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
set -e
rows=${INGEST_ROWS:-20000000}
build=${PLATEN_BUILD:-$top/build}
ingest=$build/ingest
(cd "$top" && ${CC:-cc} -std=gnu11 -O2 -D_GNU_SOURCE -Icore -Iplugins/include -fopenmp -o "$ingest" \
    tests/bench/ingest.c "$build/libplaten.a" -lseccomp -ldl -lsqlite3 -lz -lgsl -lgslcblas -lcjson -lcsv \
    -ludunits2 -lcrypto -lm)
open_shop
id=$(sed -n 2s/,.*//p tread-r1/breaks.csv)
"$ingest" make record.csv "$rows"
cat record.csv >/dev/null # from memory from now on

digest=$("$ingest" digest record.csv)
wc=$("$ingest" time 7 wc -l record.csv | cut -d' ' -f1)
"$ingest" time 5 "$platen" take tread --look --rig puller --specimen "$id" record.csv >took
all=$(cut -d' ' -f1 took)
net=$(awk "BEGIN { print $all - $digest }")
line() {
    awk -v name="$1" -v s="$2" -v mib="$3" -v all="$all" -v net="$net" -v wc="$wc" 'BEGIN {
        printf "%-46s %8.3f s %7s MiB %7.1f %9.1f %7.2f\n", name, s, mib, s / all, s / net, s / wc }'
}

# goal WHAT RATIO WANTED at-least|at-most
goal() {
    awk -v what="$1" -v x="$2" -v goal="$3" -v way="$4" 'BEGIN {
        met = way == "at-least" ? x >= goal : x <= goal
        printf "  %-44s %8.2f, goal %s %s: %s\n", what, x, way, goal, met ? "met" : "MISSED" }'
}
ratio() { awk "BEGIN { print $1 / $2 }"; }

echo
echo "$rows rows of time and force, $(($(wc -c <record.csv) / 1000000)) MB, in memory; processor time, least of several runs"
printf '%-46s %10s %11s %7s %9s %7s\n' "" "" "" "x take" "x net" "x wc"
mib=$(cut -d' ' -f2 took)
line "platen take, child process and digest too" "$all" "$mib"
line "  of it the digest (SHA-256)" "$digest" -
line "  net: without the digest" "$net" -
line "wc -l" "$wc" -
goal "take without the digest, times wc -l" "$(ratio "$net" "$wc")" 6 at-most
goal "largest memory of take, MiB" "$mib" 32 at-most

# a Python of this machine that has pandas, the first one or the system's
for python in python3 /usr/bin/python3 none; do
    "$python" -c 'import pandas' 2>/dev/null && break
done
if [ "$python" = none ]; then
    echo "pandas.read_csv: SKIPPED, not installed (python3-pandas)"
else
    "$ingest" time 3 "$python" "$top/tests/bench/read_record.py" record.csv >took
    pandas=$(cut -d' ' -f1 took)
    line "pandas.read_csv, then the peak" "$pandas" "$(cut -d' ' -f2 took)"
    goal "pandas.read_csv, times take without the digest" "$(ratio "$pandas" "$net")" 8 at-least
fi
if command -v Rscript >/dev/null; then
    head -n "$((rows / 10 + 1))" record.csv >tenth.csv
    "$ingest" time 1 Rscript "$top/tests/bench/read_record.R" tenth.csv >took
    r=$(awk '{ print 10 * $1 }' took)
    line "read.csv of R, a tenth of the rows, times ten" "$r" "$(cut -d' ' -f2 took)"
    goal "read.csv, times take without the digest" "$(ratio "$r" "$net")" 30 at-least
else
    echo "read.csv: SKIPPED, R is not installed"
fi
