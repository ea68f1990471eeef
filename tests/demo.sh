#!/bin/sh
# The whole job on invented readings, then the same engine on open data beside
# its published figures. Everything is written below build/demo.
set -eu

build=${PLATEN_BUILD:-build}
platen=${PLATEN:-build/platen}
out=$build/demo
rm -rf "$out"
mkdir -p "$out"
cp designs/stair-lap.json "$out/"
cp -r designs/rigs "$out/rigs"
invent=$build/invent
beside=$build/beside
data=$PWD/datasets
cd "$out"

say() { printf '\n== %s\n\n' "$*"; }
run() {
    printf '$ platen %s\n' "$*"
    "$platen" "$@"
}

say "A stair builder asks how hard to squeeze lap joints of beech and larch"
for rig in rigs/*.json; do run rig add "$rig"; done
run check stair-lap.json
say "How many are enough?"
run size stair-lap.json
say "The plan: drawn, and frozen in the book"
run plan stair-lap.json --seed 20260302
say "Sheets and forms for the bench"
run sheet stair-lap.json
say "The readings. INVENTED DATA: made by tests/demo/invent.c from a seed"
"$invent" platen.book stair-lap filled 7
run take stair-lap.json --look filled/sessions.csv filled/glue-ups.csv filled/breaks.csv
say "One pot was open too long and one cylinder stuck below its dial: that is how it was"
run take stair-lap.json --as-written filled/sessions.csv filled/glue-ups.csv filled/breaks.csv
run take stair-lap.json --rig pull-bench filled/pull-*.csv
say "The answer"
run fit stair-lap.json > answer.txt
sed '/^Details/,$d' answer.txt
run report stair-lap.json

say "Open data: three bonding metals in seven ingots, in blocks"
"$platen" fit --data "$data/bond-ingots/data.csv" --response pressure --effect metal \
    --block ingot --json > ingots.json
"$beside" "$data/bond-ingots/known-answers.json" ingots.json
say "Open data: Misra1a, a rise to a plateau from a fixed floor, no start given"
"$platen" fit --data "$data/misra1a/data.csv" --response y --over x \
    --curve saturating-exponential --floor 0 --json > misra1a.json
"$beside" "$data/misra1a/known-answers.json" misra1a.json

say "The page: $PWD/stair-lap-r1/report.html   the tables: $PWD/answer.txt"
