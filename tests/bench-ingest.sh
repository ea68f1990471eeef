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

# line NAME SECONDS MIB: beside the time of take without the digest, and of wc
digest=$("$ingest" digest record.csv)
wc=$("$ingest" time 7 wc -l record.csv | cut -d' ' -f1)
"$ingest" time 5 "$platen" take tread --look --rig puller --specimen "$id" record.csv >took
all=$(cut -d' ' -f1 took)
net=$(awk "BEGIN { print $all - $digest }")
line() {
    awk -v name="$1" -v s="$2" -v mib="$3" -v net="$net" -v wc="$wc" 'BEGIN {
        printf "%-44s %8.3f s %8s MiB %7.2f x take %7.2f x wc\n", name, s, mib, s / net, s / wc }'
}

echo "$rows rows of time and force, $(($(wc -c <record.csv) / 1000000)) MB; processor time, least of several runs"
line "platen take, all" "$all" "$(cut -d' ' -f2 took)"
line "  of it the digest" "$digest" -
line "  without the digest" "$net" -
line "wc -l" "$wc" -
if python3 -c 'import pandas' 2>/dev/null; then
    "$ingest" time 2 python3 -c 'import pandas, sys
d = pandas.read_csv(sys.argv[1])
i = d["force [N]"].to_numpy().argmax()' record.csv >took
    line "pandas.read_csv" "$(cut -d' ' -f1 took)" "$(cut -d' ' -f2 took)"
else
    echo "pandas.read_csv: SKIPPED, not installed (python3-pandas)"
fi
if command -v Rscript >/dev/null; then
    head -n "$((rows / 10 + 1))" record.csv >tenth.csv
    "$ingest" time 1 Rscript -e 'd <- read.csv("tenth.csv"); i <- which.max(d[[2]])' >took
    line "read.csv of R, a tenth of the rows, times ten" \
        "$(awk '{ print 10 * $1 }' took)" "$(cut -d' ' -f2 took)"
else
    echo "read.csv: SKIPPED, R is not installed"
fi
