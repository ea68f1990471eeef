# Joint and glue line of a study, as a tester would meet them (invented readings).
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
fill_day

# breaks EDIT: the day's breaks with one thing changed by awk, taken into a fresh copy of the book
cp platen.book planned.book
cp breaks.csv plain.csv
fresh() {
    cp planned.book platen.book
    awk -F, -v OFS=, "$1" plain.csv >breaks.csv
    run 0 take tread sessions.csv glue-ups.csv breaks.csv --as-written
}
wood='NR > 1 && $7 >= 4.9 { $9 = 90; $10 = "wood" } { print }'

# every joint in the glue line: nothing to tell apart
fresh '{ print }'
run 0 fit tread
silent "apart from the wood"

# the upper levels broke in the wood: no upper limit there, the joint's answer stands
fresh "$wood"
run 0 fit tread
says "The glue line, apart from the wood"
says "and 6 in the glue line; a wood break says of the glue line only that it was stronger"
says "and no upper limit (not one of 3 broke in the glue line: of many such joints at most 64 in 100 would)"
says "with the line between wood and glue drawn anywhere from 25 to 100 % wood instead of at 75 %, no figure moves"
says "the wood itself, a break in the glue line being the least it held: 8.35 N/mm2, between 8.14 and 8.55"
silent "[^a-z](nan|inf)[^a-z]"
run 0 fit tread --json
valid
says '"cells": "pressure"'
says '"wood_breaks": 6'
says '"by_line": ['
says '"answer": "wood"'
silent "[^a-z](nan|inf)[^a-z]"
run 0 report tread --to bond.html
grep -q "The glue line, apart from the wood" bond.html || fail "the page has no glue line"
grep -q "by the share of wood from which a break counts as wood" bond.html || fail "no table by line"

# between two marks, not broken (its peak blank: the rig's 10 kN), fallen apart
fresh 'NR == 2 { $7 = "3.2..3.6" } NR == 3 { $7 = ""; $9 = ""; $10 = "not-broken" } NR == 4 { $7 = ""; $9 = ""; $10 = "handling" } { print }'
run 0 fit tread
says "1 did not break; a wood break says of the glue line only that it was stronger, a joint that did not break only what it held"
says "1 joint fell apart in handling and counts as weaker than anything that was read; 1 peak was read between two marks"
run 0 fit tread --json
says '"between": 1'
says '"not_broken": 1'
says '"handling": 1'

# every joint in the wood: the joint has its answer, the glue line has none
fresh 'NR > 1 { $9 = 95; $10 = "wood" } { print }'
run 0 fit tread
says "how strong the glue line is these joints cannot tell: not one broke in it; it has no upper limit"
run 0 fit tread --json
says '"model": "none"'
valid

# not one joint broke
fresh 'NR > 1 { $9 = ""; $10 = "not-broken" } { print }'
run 1 fit tread
warns "12 joints, not one of which broke"
warns "smaller joints, or a stronger rig"
fresh 'NR > 1 { $7 = ""; $9 = ""; $10 = "not-broken" } { print }'
run 1 fit tread
warns "12 joints, of each of which only a bound is known: not broken, or fallen apart"
fresh 'NR > 1 { $7 = ""; $9 = ""; $10 = "handling" } { print }'
run 1 fit tread
warns "of each of which only a bound is known"

# a standard's invalid results: left out, counted by level, and the answer with them beside
fresh "$wood"
sed 's/"scatter": "unknown"/"scatter": "unknown", "rules": { "invalid": [{ "mode": "wood", "below": "8.3 N\/mm2" }, { "mode": "mixed" }], "law": "weibull" }/' \
    tread.json >ruled.json
run 0 fit ruled.json
says 'the rule "wood below 8.3 N/mm2" makes 3 results invalid (1.2 N/mm2: 2 of 3; 1.8 N/mm2: 1 of 3)'
says 'the rule "mixed" makes no result invalid'
says "without them"
run 0 fit ruled.json --json
says '"excluded": 3'
says '"law": "weibull"'
edit ruled.json 's/"mode": "mixed"/"mode": "crooked"/'
run 3 fit x.json
warns '"crooked"'
edit ruled.json 's/"law": "weibull"/"law": "gamma"/'
run 3 check x.json
warns '"gamma"'
edit ruled.json 's/"below": "8.3 N\/mm2"/"below": "8.3 mm"/'
run 3 check x.json
warns '8.3 mm'

finish
