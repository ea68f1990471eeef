# plan and sheet: what is frozen, what is not, and what is refused.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
write_shop

# looking writes nothing
run 0 plan tread.json --look --seed 11
says "Only looked at: nothing is frozen."
absent platen.book
for rig in stones jack puller; do run 0 rig add $rig.json; done
keep platen.book
run 0 plan tread.json --look --seed 11
same platen.book
run 0 plan tread.json --look --seed 11 --json
valid
same platen.book
refused 1 "no plan of it in platen.book" sheet tread.json
refused 1 "no plan of it in platen.book" fit tread.json
refused 1 "no plan of it in platen.book" report tread.json
refused 1 "no plan of it in platen.book" take tread.json tread.json
refused 3 "neither a file nor a study in the book" plan tread

# faults of the study
edit tread.json 's/"title"/"titel"/'
refused 3 'did you mean "title"?' plan x.json
edit tread.json 's/"1.8 N/"6 N/'
refused 1 "6 N/mm2, which no rig makes" plan x.json
warns "a bore of at least" # the smallest change that mends it
edit tread.json 's/"count": 3/"count": 1/'
refused 1 "/boards" plan x.json
warns "board"
edit tread.json 's/"500 mm"/"80 mm"/'
refused 3 "/boards/0" plan x.json
edit tread.json 's/"press", "stations": 1, "rigs": \["jack"\]/"press", "stations": 1, "rigs": ["stones"]/'
refused 1 "no press with the rig" plan x.json
refused 2 "a whole number from 0 to 9007199254740991" plan tread.json --seed 1.5
refused 2 'expected platen plan STUDY' plan
refused 2 'did you mean --seed?' plan tread.json --sed 5

# frozen; the same again changes nothing; a name does as well as the file
run 0 plan tread.json --seed 11
says "Frozen in platen.book as revision 1."
says "Seed 11."
says "What this plan cannot tell"
keep platen.book
run 0 plan tread.json --seed 11
warns "planned already: revision 1"
same platen.book
run 0 plan tread.json
warns "planned already: revision 1"
run 0 plan tread --json
valid
says '"seed": 11'
same platen.book
# the same seed draws the same plan in another book
run 0 rig add jack.json --book other.book
run 0 rig add stones.json --book other.book
run 0 rig add puller.json --book other.book
run 0 plan tread.json --seed 11 --json --book other.book
cp out other.json
run 0 plan tread.json --json
grep '"id"\|glue_order\|break_order\|"glue_up"' other.json >a
grep '"id"\|glue_order\|break_order\|"glue_up"' out >b
count=$((count + 1))
cmp -s a b || fail "one seed, two plans"
[ "$(grep -c '"id"' a)" -ge 12 ] || fail "fewer specimens than planned"

# without --seed one is drawn and said, and another run draws another
run 0 plan tread.json --look --book none.book
grep "^Seed" out >a
run 0 plan tread.json --look --book none.book
grep "^Seed" out >b
! cmp -s a b || fail "the same seed twice from the system"

# a changed question: said, and by plan a further revision before readings come
edit tread.json 's/"15 %"/"20 %"/'
run 0 check x.json
warns "differs from revision 1"
run 0 sheet x.json --to s1
warns "differs from revision 1"
edit tread.json 's/"pressure", "levels"/"squeeze", "levels"/; s/"over": "pressure"/"over": "squeeze"/'
refused 3 "other factors than the plan was made for" sheet x.json --to s2
absent s2

# sheets
run 0 sheet tread
says "tread-r1/breaks.csv"
keep tread-r1/breaks.csv
echo "filled in" >>tread-r1/breaks.csv
keep tread-r1/breaks.csv
refused 5 "tread-r1/breaks.csv: found" sheet tread
warns "--replace"
same tread-r1/breaks.csv # a filled-in form is not written over
run 0 sheet tread --replace
! cmp -s tread-r1/breaks.csv tread-r1/breaks.csv.kept || fail "--replace left the form"
run 0 sheet tread --session 1 --to one --json
valid
says "one/glue-up-session-1.html"
refused 2 "expected 1 to 1" sheet tread --session 7 --to seven
refused 2 "a whole number" sheet tread --session first
absent seven
refused 5 "tread.json: found" sheet tread --to tread.json
run 0 sheet tread --to new/folder # made with its parents
refused 5 "/dev/full" sheet tread --to /dev/full
# nothing that the bench may see tells the pressure
for f in labels.html break-sheet.html breaks.csv; do
    count=$((count + 1))
    ! grep -qE "N/mm2|stones|jack" "tread-r1/$f" || fail "$f tells the treatment"
done

# what size says of so many is kept with the plan
run 0 plan tread --json
valid
says '"asked": "A difference of'
says '"power_at_upper"'

# which level is glued when, drawn in the terminal: a sign for each glue-up
if command -v gnuplot >/dev/null; then
    run 0 plan tread --plot
    says "order of gluing"
    says "pressure, N/mm2"
    count=$((count + 1))
    signs=$(sed -n '/pressure, N/,/order of gluing/s/^[^|]*|//p' out | tr -d ' \n' | wc -c)
    [ "$signs" -eq 12 ] || fail "12 glue-ups, $signs signs"
fi

# joints beside those that are compared: the plan says what they tell, the sheets hold them, the
# labels do not
cp "$top/designs/two-rigs.json" .
for rig in weights air-press pull-bench; do run 0 rig add "$top/designs/rigs/$rig.json" --book two.book; done
run 0 plan two-rigs.json --seed 5 --book two.book
says "beside them 1 reference joint in every session"
says "6 pairs at 0.2 N/mm2, one joint by weights and one by air-press, tell the two rigs apart"
says "by the pairs alone"
run 0 plan two-rigs.json --book two.book --json
valid
says '"bridging_pair": 6'
says '"reference": true'

# the tester's own limit of how far any factor may go with the order
sed 's/"runs": 12 }/"runs": 12, "order_limit": "25 %" }/' "$top/designs/nine-suspects.json" >limited.json
run 0 plan limited.json --look --seed 3
says "which the study limits to 0.25"
run 0 plan limited.json --look --seed 3 --json
says '"order_bound": 0.25'

# without pairs the first paragraph says what the fit will do
sed '/"bridging": {/,/},/d' two-rigs.json >bare.json
run 0 plan bare.json --seed 5 --book two.book --look
count=$((count + 1))
sed -n 2p out | grep -qF "the difference between weights and air-press is fitted as zero, for no pressure is made on both" ||
    fail "the first paragraph does not say what is fitted as zero"
finish
