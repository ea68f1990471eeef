# rig try: the battery's report for a rig file, a rig of the shop, a kind, a plugin's file, recordings.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
rigs=$top/designs/rigs
build=${PLATEN_BUILD:-$top/build}
pull=$top/plugins/load-cell/recordings/pull.csv

run 0 rig try "$rigs/air-press.json"
says "piston-press, asked as air-press"
says "passed  from force to dial and back is the same force"
says "12 checks, 0 failed"
says "presses 141 N to 2960 N" # 10 bar on 63 mm less its friction: 2961 N
run 0 rig add "$rigs/weights.json"
run 0 rig try weights --json
valid
says '"failed": 0'
says '"rig": "weights"'
run 0 rig try screw-press
says "screw-press, asked as a rig made up of what it declares"
run 0 rig try pressure-log
warns "no recording to try"
run 0 rig try "$rigs/pull-bench.json" "$pull"
says "pull.csv with semicolons and decimal commas"
says "memory a row, over 1000080 rows"
run 0 rig try richards-rise
says "richards-rise, a curve"
says "passed  its derivatives agree with differences"
mkdir kept
cp "$pull" kept/pull.csv
run 0 rig try --plugin "$build/plugins/load-cell.so" --recordings kept
says "30 checks, 0 failed"
run 0 rig try --plugin "$build/plugins/load-cell.so" kept/pull.csv
says "30 checks, 0 failed"

# no such thing
refused 2 "a record, for a piston-press" rig try "$rigs/air-press.json" nowhere.csv
refused 3 'kind of rig "wieghts"' rig try wieghts
refused 3 'missing.csv' rig try "$rigs/pull-bench.json" missing.csv
refused 3 'no folder that can be read' rig try load-cell --recordings nowhere
refused 2 'rig try without a name' rig try
# a recording that the rig cannot read is a failed check: exit 4
printf 'time [s],colour\n0,red\n' >red.csv
run 4 rig try "$rigs/pull-bench.json" red.csv
says "FAILED  red.csv is read"
run 4 rig try --plugin "$build/faults/halves.so" --json
valid
says '"passed": false'
says 'no rig can be made of it'
run 4 rig try --plugin "$build/faults/gaps.so"
says "FAILED  the plugin loads and follows its header"
finish
