# Lost joints made again: found from marks and forms, frozen as a revision that leaves all
# else as it was, taken and fitted like the others.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

write_shop
sed -i 's/"breaking"/"cutting": { "spare_joints": "1 in 3" },\n  "breaking"/' tread.json
for rig in stones jack puller; do run 0 rig add $rig.json; done
refused 1 "found no plan of it" plan tread.json --repair
run 0 plan tread.json --seed 11
run 0 sheet tread.json
fill_day
run 0 plan tread --repair
says "Nothing is lost"
run 0 take tread sessions.csv glue-ups.csv breaks.csv

id=$(awk -F, 'NR == 2 { print $1 }' breaks.csv)
g=$(awk -v id="$id" '$1 == id { print $2 }' planned.txt)
run 0 mark tread "$id" --lost --reason "fell off the bench"
keep platen.book
run 0 plan tread --repair --look --seed 4
same platen.book
says "in place of $g"
says "Only looked at"
run 0 plan tread --repair --seed 4
says "Frozen in platen.book as revision 2: what was there stays as it is."
says "in place of $g"
says "holds only what was made again"
run 0 plan tread --repair
says "Nothing is lost"
run 0 plan tread --json
valid
says '"revision": 2'
says "\"instead_of\": \"$g\""

# no label is issued twice, and what was planned keeps its label
awk -F'"' '$2 == "id" { print $4 }' answer.json | sort >now.ids
count=$((count + 1))
[ -z "$(uniq -d now.ids)" ] || fail "an id twice"
run 0 book check

# a plan that changes what was there is refused still
edit tread.json 's/"glue_ups_per_level": 3/"glue_ups_per_level": 2/'
refused 3 "a new plan would give the same labels to other joints" plan x.json

# its sheets and forms, and its reading counts
run 0 sheet tread
run 0 plan tread --json
again=$(awk -F'"' '$2 == "id" { id = $4 } $2 == "session" && $3 ~ /[2-9]/ { print id; exit }' out)
count=$((count + 1))
grep -q "^$again," tread-r2/breaks.csv || fail "no row for $again in the break form"
count=$((count + 1))
! grep -q "^$again," tread-r1/breaks.csv || fail "$again was in the first break form"
awk -F, -v OFS=, -v id="$again" 'NR == 1 { print } $1 == id { $4 = "2027-03-05 10:00"
    $5 = 30; $6 = 20; $7 = 4.4; $9 = 10; $10 = "cohesive"; print }' tread-r2/breaks.csv >breaks-2.csv
last=$(awk -F, 'END { print $1 }' tread-r2/sessions.csv)
awk -F, -v OFS=, -v s="$last" 'NR == 1 { print } $1 == s { $2 = "2027-03-02"; print }' tread-r2/sessions.csv >sessions-2.csv
run 0 take tread --as-written sessions-2.csv breaks-2.csv
run 0 book check
run 0 fit tread
count=$((count + 1))
[ "$(awk '/^[0-9.]+ N\/mm2 / { n += $5 } /^State/ { exit } END { print n }' out)" = 12 ] || fail "not 12 joints count"
finish
