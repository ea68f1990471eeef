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

# A plan's time grows with its joints: about the same a joint from 1e4 to 1e6. First the making of
# it alone, then the whole verb: study read, plan made, answer written, plan frozen in a new book.
"$build/plan_growth"
for joints in 1000 10000 100000 1000000; do
    sh "$top/tests/bench/many.sh" $joints >many-$joints.json
    rm -f "$build/bench.times"
    for seed in 1 2 3; do
        rm -f many.book
        /usr/bin/time -f '%e %U %S %M' -a -o "$build/bench.times" "$platen" plan many-$joints.json \
            --seed $seed --book many.book >/dev/null
        [ $joints -lt 1000000 ] || break
    done
    sort -n "$build/bench.times" | awk -v n=$joints '
        { wall[NR] = $1; cpu[NR] = $2 + $3; memory = $4 }
        END { m = int((NR + 1) / 2)
            printf "the whole of platen plan, %7d joints: %6.2f s wall, %6.2f s cpu, %5.1f microseconds a joint, %.0f MiB%s\n",
                n, wall[m], cpu[m], 1e6 * cpu[m] / n, memory / 1024,
                n == 100000 ? (wall[m] < 1 ? " (aim 1 s: met)" : " (aim 1 s: NOT MET)") : "" }'
    rm -f "$build/bench.times" many.book many-$joints.json
done

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
