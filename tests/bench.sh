#!/bin/sh
# Times and memory of whole processes, measured by /usr/bin/time. Not tests:
# nothing here fails for being slow.
set -eu
platen=${PLATEN:-build/platen}
build=${PLATEN_BUILD:-build}
top=${PLATEN_TOP:-$PWD}

# best NAME COMMAND...: least wall time, and largest memory of one process, of five runs
best() {
    name=$1
    shift
    for i in 1 2 3 4 5; do
        /usr/bin/time -f '%e %U %S %M' -a -o "$build/bench.times" "$@" >/dev/null 2>&1 || true
    done
    awk -v name="$name" '
        NR == 1 || $1 < wall { wall = $1 }
        NR == 1 || $2 + $3 < cpu { cpu = $2 + $3 }
        $4 > memory { memory = $4 }
        END { printf "%-34s %7.3f s wall %7.3f s cpu %8.1f MiB\n", name, wall, cpu, memory / 1024 }
    ' "$build/bench.times"
    rm -f "$build/bench.times"
}
# Milliseconds of one run, of twenty in a row; least of three such rows.
row_ms() {
    for row in 1 2 3; do
        from=$(date +%s%N)
        for i in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do "$@" >/dev/null 2>&1; done
        echo $((($(date +%s%N) - from) / 20000))
    done | sort -n | awk 'NR == 1 { print $1 / 1000 }'
}

rm -f "$build/bench.times"
echo "least of five runs; memory is the largest of one process"
best "the whole demo, after the build" sh "$top/tests/demo.sh"
best "platen --version" "$platen" --version
best "platen check, 8 in 14 boards of 4" "$platen" check "$top/designs/eight-surfaces.json"
best "platen check, 6 of 64 combinations" "$platen" check "$top/designs/six-suspects.json"
cd "$build/demo"
best "platen check STUDY" "$platen" check stair-lap.json
best "platen plan STUDY --look" "$platen" plan stair-lap.json --look --seed 5
best "platen fit STUDY" "$platen" fit stair-lap.json
best "platen report STUDY" "$platen" report stair-lap.json --replace
best "platen fit --data Misra1a" "$platen" fit --data "$top/datasets/misra1a/data.csv" \
    --response y --over x --curve saturating-exponential --floor 0
best "platen fit --data SmLs07" "$platen" fit --data "$top/tests/reference/nist/SmLs07.csv" \
    --response y --effect treatment

# A plan's time grows with its joints: about the same a joint from 1e4 to 1e6.
"$build/plan_growth"

# Blocks are absorbed, never written as columns: 100,000 specimens on 10,000 boards, and a tenth of
# them (the ratio shows growth); aim: under 1 s for the larger
big() { # BOARDS: ten joints each, eight pressures, figures made by a fixed rule
    awk -v n="$1" 'BEGIN { print "board,pressure,strength"; for (b = 0; b < n; b++) for (k = 0; k < 10; k++) {
        x = (x * 69069 + 12345) % 65536; if (!k) u = x / 20000
        printf "B%d,%.1f,%.3f\n", b, 0.2 * (1 + (b + k) % 8), 9 + u + x / 30000 } }' >"boards-$1.csv"
}
for boards in 1000 10000; do
    big $boards
    best "blocks and REML, $boards boards of 10" "$platen" fit --data boards-$boards.csv \
        --response strength --effect pressure --random board
done

# Levels drawn again within complete blocks, whole process; aim: within 40 ms on two free cores.
awk 'BEGIN { print "block,level,strength"; for (b = 1; b <= 6; b++) for (k = 1; k <= 8; k++) {
    u = (u * 69069 + 12345) % 65536; printf "B%d,L%d,%.2f\n", b, k, 9 + b / 2 + k / 20 + u / 30000 } }' >again.csv
best "1,000,000 re-randomisations, 8 levels x 6 blocks" "$platen" fit --data again.csv \
    --response strength --effect level --block block --randomised 1000000 --seed 1

# The bootstrap beside the profile: 10,000 refits of one curve, whole processes on one core; the aims
# are 400 times a loop of R's nls and 100 times one of SciPy's curve_fit, where these are installed.
awk 'BEGIN { split("0.2 0.4 0.6 0.8 1 1.4 1.8 2.5", x); print "pressure,strength"; for (i = 1; i <= 8; i++)
    for (k = 0; k < i + 2; k++) { u = (u * 69069 + 12345) % 65536
        printf "%s,%.4f\n", x[i], 10 * (1 - exp(-2 * x[i])) + (u / 65536 - 0.5) * 2.8 } }' >refits.csv
cpu_s() { # processor seconds of one run, the least of three
    for i in 1 2 3; do OMP_NUM_THREADS=1 /usr/bin/time -f '%U %S' -o "$build/bench.cpu" "$@" >/dev/null
        cat "$build/bench.cpu"; done | awk 'NR == 1 || $1 + $2 < s { s = $1 + $2 } END { print s + 0.005 }'
}
ours=$(cpu_s "$platen" fit --data refits.csv --response strength --over pressure \
    --curve saturating-exponential --floor 0 --bootstrap 10000 --seed 1)
echo "10,000 bootstrap refits of one curve: $ours s cpu (to 0.005 s)"
beside_loop() { # NAME AIM COMMAND...
    name=$1 aim=$2
    shift 2
    "$@" >/dev/null 2>&1 || return 0
    theirs=$(OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 cpu_s "$@")
    awk -v a="$theirs" -v b="$ours" -v n="$name" -v aim="$aim" 'BEGIN {
        printf "  a loop of %s: %.2f s cpu, %.0f times ours: %s %d\n", n, a, a / b, a / b >= aim ? "reaches" : "NOT", aim }'
}
beside_loop "R's nls" 400 Rscript "$top/tests/bench/refits.R" refits.csv
beside_loop "SciPy's curve_fit" 100 /usr/bin/python3 "$top/tests/bench/refits.py" refits.csv

# The book: one transaction of 100,000 readings beside a bare loop of prepared inserts of the same
# rows with the same digests (at most 3 times as long); a fit from a book of 1,000 studies beside the
# fit of the same table as CSV (at most 50 ms more).
"$build/tests/design/test_speed" 2>&1 | grep "^design:"
"$build/tests/book/test_speed" 2>&1 | grep readings
shelf=$(mktemp -d -p /dev/shm 2>/dev/null || mktemp -d) # 2,000 commits wait for no disk
cp platen.book "$shelf/many.book"
"$build/many_studies" "$shelf/many.book" stair-lap 1000
mv "$shelf/many.book" many.book
rmdir "$shelf"
rm -rf one
"$platen" book export --study stair-lap one >/dev/null
from_csv=$(row_ms "$platen" fit --data one/joints.csv --response strength \
    --over "pressure made" --planned pressure --glue-up glue_up --for-each species --block board)
from_one=$(row_ms "$platen" fit stair-lap)
from_many=$(row_ms "$platen" fit stair-lap --book many.book)
awk -v csv="$from_csv" -v one="$from_one" -v many="$from_many" 'BEGIN {
    printf "fit of its joints: %.1f ms from CSV, %.1f ms from a book of 1 study, %.1f ms of 1001\n", csv, one, many
    printf "a book of 1001 studies, %.1f ms more than CSV: %s 50 ms\n", many - csv, many - csv < 50 ? "within" : "NOT WITHIN" }'
best "platen book list, 1001 studies" "$platen" book list --book many.book
best "platen book check, 1001 studies" "$platen" book check --book many.book

# a report of 1008 specimens: 12 combinations, 84 of each, on a shop large enough for it.
# What the small demo never meets is taken out of its invented readings: a time written
# to the minute that overtakes another, and a dial above its end.
mkdir -p big && cd big
rm -rf platen.book stair-lap-r1 filled
sed 's/"glue_ups_per_level": 6/"glue_ups_per_level": 84/; s/"count": 6/"count": 84/; /"budget"/d
    s/\("scatter": {[^}]*}\),/\1/; s/"stations": [24]/"stations": 60/; s/"session": "8 h"/"session": "12 h"/' \
    "$top/designs/stair-lap.json" >big.json
{
    for rig in "$top"/designs/rigs/*.json; do "$platen" rig add "$rig"; done
    "$platen" plan big.json --seed 5
    "$build/invent" platen.book stair-lap filled 7
    awk -F, -v OFS=, 'NR > 1 { $5 = ""; for (i = 8; i <= 9; i++) if ($i > 10) $i = 10 } { print }' \
        filled/glue-ups.csv >glue-ups.csv
    "$platen" take stair-lap --as-written filled/sessions.csv glue-ups.csv filled/breaks.csv
} >/dev/null 2>&1
best "platen sheet, 1008 specimens" "$platen" sheet stair-lap --replace
best "platen report, 1008 specimens" "$platen" report stair-lap --replace
printf 'its page: %s bytes\n' "$(wc -c <stair-lap-r1/report.html)"
