# take: corrections shown, files kept and withdrawn, doubts said before anything is written.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv --keep
says "3 files kept"
a=$(sed -n 2s/,.*//p breaks.csv)
had=$(sed -n 2p breaks.csv | cut -d, -f7)
run 0 fit tread --json
cp out before.json

# a corrected form shows only what it changes
awk -F, -v OFS=, 'FNR == 2 { $7 = $7 + 0.07; $9 = 12 } { print }' breaks.csv >corrected.csv
run 0 take tread corrected.csv --replace --look
says "2 corrected"
says "peak of specimen $a: $(awk "BEGIN { print $had + 0.07 }") kN, was $had kN"
says "wood_failure of specimen $a: 12 %, was 10 %"
count=$((count + 1))
[ "$(grep -c ', was ' out)" -eq 2 ] || fail "more is shown than was changed"
run 0 take tread corrected.csv --replace --json
valid
says '"from_file": "breaks.csv"'
run 0 fit tread --json
count=$((count + 1))
! cmp -s out before.json || fail "the correction changes no figure"

# taken back: what it had replaced counts again
refused 2 "why the file is taken back" take tread --withdraw corrected.csv
refused 2 "other files or options" take tread breaks.csv --withdraw corrected.csv --reason x
refused 2 "a reason without --withdraw" take tread breaks.csv --reason x
refused 2 'did you mean "corrected.csv"?' take tread --withdraw corected.csv --reason x
refused 2 "expected a file that was taken" take tread --withdraw nothing.csv --reason x
run 0 take tread --withdraw corrected.csv --reason "the wrong scale" --json
valid
says '"ended": 2'
says '"restored": 2'
run 0 fit tread --json
count=$((count + 1))
cmp -s out before.json || fail "withdrawing does not give the figures of before"
refused 2 "expected a file that was taken" take tread --withdraw corrected.csv --reason x
# it may be taken again; two files of one name are told apart by digest
run 0 take tread corrected.csv --replace
says "2 corrected"
{ head -1 breaks.csv; echo "$a,,,,,,,,,,,,seen twice"; } >breaks.csv.new
cp breaks.csv first.csv
mv breaks.csv.new breaks.csv
run 0 take tread breaks.csv
refused 2 "several files" take tread --withdraw breaks.csv --reason x
run 0 take tread --withdraw "$(sha256sum breaks.csv | cut -c1-12)" --reason "a note for another joint"
says "Took back breaks.csv: 1 reading"
run 0 take tread --withdraw "$(sha256sum first.csv | cut -d' ' -f1)" --reason "all of it"
refused 1 "" fit tread.json --book none.book
run 0 book check
says "3 kept files"

# doubts, before anything is written
cp first.csv breaks.csv
run 0 take tread breaks.csv --replace
b=$(sed -n 3s/,.*//p breaks.csv)
awk -F, -v OFS=, 'FNR == 3 { $4 = "2027-03-01 09:00" } { print }' breaks.csv >soon.csv
keep platen.book
run 0 take tread soon.csv --replace --look
warns "$b broken 0.917 h after it was pressed, expected 24 h or more"
warns "1 joint broken out of order, the first $b before $a"
same platen.book
run 0 take tread breaks.csv --look
quiet "out of order"
finish
