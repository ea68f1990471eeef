#!/bin/sh
# Every study in designs/, from plan to answer, on invented readings: each is planned, filled in, taken
# and fitted, and the answer says what it should and nothing that is no number. The truth behind the
# readings stands at the head of tests/demo/invent.c.
. "$PLATEN_TOP/tests/cli/lib.sh"
invent=${PLATEN_BUILD:-$top/build}/invent
for rig in "$top"/designs/rigs/*.json; do run 0 rig add "$rig"; done

# day STUDY: planned, made and broken on paper.
day() {
    run 0 plan "$top/designs/$1.json" --seed 20260302
    "$invent" platen.book "$1" "of-$1" 7 >out 2>err || fail "invent $1"
    run 0 take "$1" --as-written "of-$1/sessions.csv" "of-$1/glue-ups.csv" "of-$1/breaks.csv"
}

n=0
for file in "$top"/designs/*.json; do
    study=$(basename "$file" .json)
    day "$study"
    run 0 fit "$study"
    silent '(^|[^a-z])(nan|inf)([^a-z]|$)'
    says "These figures hold"
    cp out words
    run 0 fit "$study" --json
    valid
    silent '(: |\[)-?(nan|inf)'
    says '"terms"'
    cp words "$study.words"
    cp answer.json "$study.fit"
    n=$((n + 1))
done
count=$((count + 1))
[ "$n" -ge 12 ] || fail "only $n designs"

# answer STUDY: its words, and its JSON, as out.
words() { cp "$1.words" out; }
answer() { cp "$1.fit" out; }

# A split plot: the room is judged by stretches of glue-ups, the rest by glue-ups. The readings were
# made with planed 0.72 N/mm2 above sanded (8 % of 9), which lies in the range given.
words warm-and-cold
says "room: makes a difference, judged by how far stretches of glue-ups made alike differ"
says "room is set 6 times only"
awk '/^room +after-all/ { room = $NF } /^pressure +after-all/ { pressure = $NF }
     END { exit !(room == "stretch" && pressure == "residual") }' out || fail "errors of the strata"
awk '{ gsub(/[(),]/, "") }
     /^surface: planed lies above sanded/ { held = $(NF - 2) < 0.72 && $NF + 0 > 0.72 }
     END { exit !held }' out || fail "the truth is not in the range"
answer warm-and-cold
says '"error": "stretch"'

# Reference joints are in the fit, a further round gets its own, and the pairs bridge the two rigs.
words two-rigs
says "the reference joint, no level but a treatment of its own that tells sessions apart, held"
silent "fitted as zero"
run 0 plan two-rigs --next --look --seed 3
says "by their reference joint"

# A fraction: what is mixed up is named, and not refused.
words six-suspects
says "one and the same effect here: pressure x"
# A screening and a Graeco-Latin square: single factors.
words nine-suspects
says "glue age: "
words glues-and-pads
says "pads: "
says "joint effects of the two factors are not told from boards and sessions"
# Incomplete blocks: within boards and with what boards tell between them.
words eight-surfaces
says "Scatter of random blocks"
says "board: from one to the next the level shifts by about"
# Rows and columns: both are blocks.
words seven-spreads
says "session"
says "Scatter of random blocks"
# Curved surfaces: every factor bends here, and the top lies at 65 % of each range: 1.44 N/mm2 of
# pressure, in the range given.
words three-dials
says "Strength has a top inside what was tried, near pressure 1."
awk '/^Where the top lies/ { sub(/.*pressure from /, ""); low = $1; high = $4; held = low < 1.44 && high > 1.44 }
     END { exit !held }' out || fail "the top is not in its range"
answer three-dials
says '"inside": true'
words three-dials
says "bend of pressure: makes a difference"
words four-dials
says "warmth of wood: makes a difference"

finish
