# fit of a study, and report: the answer, where it goes, and where it cannot.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
keep platen.book
refused 1 "no joint that was broken yet" fit tread
refused 1 "no joint that was broken yet" report tread
absent tread-r1/report.html
# one joint alone: too little, and said
fill_day
head -2 breaks.csv >one.csv
run 0 take tread one.csv
refused 1 "" fit tread
refused 1 "" report tread
run 0 take tread sessions.csv glue-ups.csv breaks.csv

run 0 fit tread
says "squeezing harder"
says "What these joints cannot tell"
says "They are no design values"
run 0 fit tread.json --json
valid
says '"answer": "joint"'
silent '"answer": "bond"'
says '"broken": 12'
says '"chances": {'
says '"found": {'
# the question may be asked anew of the same readings
edit tread.json 's/"over": "pressure"/"over": "pressure", "share": "80 %"/'
run 0 fit x.json --json
says "differs from revision 1"
says '"share": 0.8'
run 0 fit tread --plot
says "made"
# boards as a sample of many; scatter that grows with the strength: what the file asks now
edit tread.json 's/"question"/"model": { "random": ["board"] }, "question"/'
run 0 fit x.json --json
valid
says '"leads": "within-blocks"'
says '"recovered": {'
run 0 fit x.json
says "Random blocks: board sd"
edit tread.json 's/"question"/"model": { "scatter": "in-proportion" }, "question"/'
run 0 fit x.json --json
says '"scatter_in_proportion": {'
edit tread.json 's/"question"/"model": { "random": ["bord"] }, "question"/'
refused 3 'did you mean "board"' fit x.json
edit tread.json 's/"question"/"model": { "random": ["board"], "scatter": "in-proportion" }, "question"/'
refused 3 "one of the two" fit x.json
# draws beside the answer
run 0 fit tread --bootstrap 200 --residuals --seed 3
says "Bootstrap beside it, 200 draws"
says "With the joints' own residuals in place of normal scatter"
run 0 fit tread --bootstrap 200 --residuals --seed 3 --json
says '"bootstrap_of_residuals"'
refused 2 "no --bootstrap" fit tread --residuals
# the lot drawn again, beside the answer and not kept
run 0 fit tread --randomised 200 --seed 3
says "If pressure did nothing, the lot alone would set its levels at least as far apart in"
says "Levels drawn again by chance"
run 0 fit tread --randomised 200 --seed 3 --json
valid
says '"drawn_by": "glue_up"'
says '"p_least":'
refused 2 "too many draws of a plan" fit tread --randomised 100000000
refused 2 "--seed without" fit tread --seed 3
# options of tables do not go with a study
refused 2 "--effect" fit tread --effect pressure
refused 2 "--over" fit tread --over pressure
refused 2 "both a study and --data" fit tread --data breaks.csv --response peak
refused 2 "nothing to fit" fit
refused 3 "neither a file nor a study in the book" fit tred

run 0 report tread
says "tread-r1/report.html"
page=tread-r1/report.html
count=$((count + 3))
grep -q "<svg" $page || fail "no picture in the page"
! grep -qiE "(src|href)=[\"']?(https?:)?//|<script|@import|url\(" $page || fail "the page fetches something"
[ "$(grep -c "<title>" $page)" -ge 1 ] || fail "no hover text"
# where it comes from: the seal is that of the trail as it was then
cp out said.kept
run 0 report tread --to later.html
run 0 book trail --json
cp out trail.json
for words in "Where these figures come from" "tread, revision 1" "platen fit tread" "working range" \
    "session 1, 2027-03-01, glue-up G" "cohesive, 10 % wood</title>" "Levels compared" "makes a difference" "The chance of noticing that was run" \
    "When the plan was frozen, " "With the scatter that these joints showed" "Methods and where they are published" "Bretz 2006" "a joint of another size" \
    "$(awk -F'"' '$2 == "seal" { last = $4 } END { print last }' trail.json)" \
    "$(printf %s "$(cat tread.json)" | sed -e '$a\' | sha256sum | cut -c1-64)"; do
    count=$((count + 1))
    grep -qF "$words" later.html || fail "the page does not say: $words"
done
mv said.kept out
keep $page
refused 5 "a file that is there already" report tread
same $page
run 0 report tread --replace
run 0 report tread --to page.html --json
valid
says '"file": "page.html"'
refused 5 "no/such/page.html" report tread --to no/such/page.html
refused 5 "" report tread --to .
refused 5 "" report tread --to . --replace
refused 5 "/dev/full" report tread --to /dev/full --replace
# a full device in place of standard output
for verb in "fit tread" "check tread" "book list" "fit tread --json"; do
    count=$((count + 1))
    # shellcheck disable=SC2086 -- words on purpose
    "$platen" $verb >/dev/full 2>err
    [ $? -eq 5 ] || fail "$verb on a full device: exit was not 5"
    warns "could not be written"
done
finish
