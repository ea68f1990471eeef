# What to make next, from the proposal to its readings: frozen as a revision that leaves all else
# as it was, printed apart, taken and fitted like the others. The readings are invented.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

open_shop
refused 1 "found no joint that was broken yet" next tread
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv

refused 2 "expected at least 3: 3 for each of 1 answers" next tread --glue-ups 2
refused 2 'found "six", expected a time' next tread --press-hours six
refused 2 "beside --glue-ups" next tread --glue-ups 6 --press-hours "6 h"
refused 2 "without --next" plan tread --glue-ups 6
refused 2 "beside --repair" plan tread --next --repair
refused 2 "revision 1: all of it is new" sheet tread --new
keep platen.book
run 0 next tread --glue-ups 6
same platen.book
says "Make next: 6 glue-ups"
says "again"
says "tried out on paper"
says "platen plan tread --next --glue-ups 6"
cp out once
run 0 next tread --glue-ups 6
cmp -s out once || fail "another proposal from the same readings"
if command -v gnuplot >/dev/null; then
    run 0 next tread --glue-ups 6 --draws 20 --plot --plot-to round.svg
    says "a glue-up to make next"
    says "Picture: round.svg"
    count=$((count + 1))
    [ "$(grep -c '<title>to make: ' round.svg)" -eq 6 ] || fail "not six glue-ups in the picture"
fi
# half an hour's clamping each: so many fit
run 0 next tread --press-hours "2.5 h" --json
valid
says '"glue_ups": 5'
says '"need": "narrow"'

run 0 plan tread --next --glue-ups 6 --look --seed 4
same platen.book
says "Only looked at"
run 0 plan tread --next --glue-ups 6 --seed 4
says "Frozen in platen.book as revision 2: what was there stays as it is."
says "is the further round"
run 0 plan tread --json
valid
awk -F'"' '$2 == "id" { print $4 }' answer.json | sort >now.ids
count=$((count + 1))
[ -z "$(uniq -d now.ids)" ] || fail "an id twice"
run 0 book check
run 0 next tread --glue-ups 6
warns "6 joints planned and not broken yet"

# only what is new is printed: no label that was printed before
run 0 sheet tread --new --to two
absent two/glue-up-session-1.html
awk -F, 'NR > 1 { print $1 }' tread-r1/breaks.csv >first
awk -F, 'NR > 1 { print $1 }' two/breaks.csv >second
count=$((count + 3))
[ "$(wc -l <second)" -eq 6 ] || fail "the break form has not six rows"
grep -qxFf first second && fail "the new break form has old joints"
grep -qFf first two/labels.html && fail "the new labels have old ones"

# read like the others; the first round's readings count on
"$platen" plan tread --json 2>err | awk -F'"' '
    $2 == "id" { id = $4 } $2 == "pressure" { level = 1 }
    $2 == "value" { split($3, v, /[ :,]+/); if (level) at = v[2]; else dial = v[2]; level = 0 }
    $2 == "glue_up" { g = $4 }
    $2 == "spare" && id { print id, at, g, dial; id = "" }' >at.txt
awk -v OFS=, 'NR == FNR { dial[$3] = $4; next } FNR == 1 { FS = ","; print; next }
    { $0 = $0; if ($3 == "jack") $8 = $9 = dial[$1]; print }' at.txt two/glue-ups.csv >glue-ups-2.csv
awk -v OFS=, 'NR == FNR { x[$1] = $2; next } FNR == 1 { FS = ","; print; next }
    { $0 = $0; $4 = "2027-03-10 10:" (10 + FNR); $5 = 30; $6 = 20; $9 = 10; $10 = "cohesive"
      $7 = 5.05 - 3.5 * exp(-x[$1] / 0.42) + (FNR % 3 - 1) / 12; print }' at.txt two/breaks.csv >breaks-2.csv
run 0 take tread glue-ups-2.csv breaks-2.csv
run 0 fit tread --json
says "\"units\": 18"
run 0 book check

# after another step of the same kind nothing of the first two has moved
run 0 plan tread --next --glue-ups 4 --seed 9
says "as revision 3"
run 0 fit tread --json
says "\"units\": 18"
finish
