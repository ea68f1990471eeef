# rig try: the battery's report for a rig file, a rig of the shop, and a recording.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
rigs=$top/designs/rigs

run 0 rig try "$rigs/air-press.json"
says "passed  from force to dial and back is the same force"
says "6 checks, 0 failed"
run 0 rig add "$rigs/weights.json"
run 0 rig try weights --json
says '"failed": 0'
says '"passed": true'
run 0 rig try "$rigs/pull-bench.json" "$top/plugins/load-cell/recordings/pull.csv"
says "pull.csv with semicolons and decimal commas"
says "microseconds a row over 1000000 rows"
refused 3 'no rig "wieghts"' rig try wieghts
refused 3 'missing.csv' rig try "$rigs/pull-bench.json" missing.csv
refused 2 'rig try with' rig try
# a recording that the rig cannot read is a failed check: exit 4
printf 'time [s],colour\n0,red\n' >red.csv
run 4 rig try "$rigs/pull-bench.json" red.csv
says "FAILED  red.csv is read"
finish
