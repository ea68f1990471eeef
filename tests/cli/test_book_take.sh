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
# they are the user's to settle: nothing is written until somebody says that it is so
refused 3 "2 doubtful things, said above, expected files that raise no question" take tread soon.csv --replace
warns "if all of it is right, --as-written"
run 0 take tread soon.csv --replace --as-written
says "1 corrected"
run 0 book trail --study tread
says "1 corrected; as written: $b broken 0.917 h after it was pressed; 1 joint broken out of order"
run 0 take tread soon.csv # taken before: nothing to settle
refused 2 "other files or options" take tread --withdraw soon.csv --reason x --as-written
run 0 take tread --withdraw soon.csv --reason "a slip of the pen"
# conflicts and doubts are listed in one run
awk -F, -v OFS=, 'FNR == 3 { $7 = 49 } { print }' breaks.csv >slip.csv
refused 3 "found peak of specimen $b is 49 kN" take tread slip.csv
warns "times its neighbours"
# one row alone is held to what the book has
sed -n 1p slip.csv >one.csv
sed -n 3p slip.csv >>one.csv
refused 3 "1 doubtful thing" take tread one.csv --replace
warns "peak 49 kN of $b: 10 times its neighbours"
# so is a record
{ printf 'time [s],force [N]\n'; awk 'BEGIN { for (i = 0; i < 60; i++) print i / 10 ",0.4"
    for (i = 0; i <= 200; i++) print 6 + i / 10 "," 2 * i
    for (i = 0; i < 20; i++) print 26.1 + i / 10 ",1" }'; } >"pull-$b.csv"
refused 3 "1 doubtful thing" take tread --rig puller "pull-$b.csv" --replace
warns "of $b: 0.093 times its neighbours"
run 0 take tread --rig puller "pull-$b.csv" --replace --as-written
run 0 book export out-plugin
count=$((count + 1))
so=$(sha256sum "${PLATEN_BUILD:-$top/build}/plugins/load-cell.so" | cut -d' ' -f1)
grep -qF "\"load-cell, ABI 1, SHA-256 $so\"" out-plugin/source.csv || fail "which plugin read it is not kept"
run 0 take tread --withdraw "pull-$b.csv" --reason "the cell was not plugged in"

# the forms of another study: its ids are named, its labels and its very file noticed
sed 's/"study": "tread"/"study": "riser"/' tread.json >riser.json
run 0 plan riser.json --seed 5
run 0 sheet riser.json
sed 2s/,,,,,/,,,,,4/ riser-r1/breaks.csv >theirs.csv
refused 3 "12 specimens of study riser, expected a form of tread" take tread theirs.csv
warns "platen take riser theirs.csv"
awk -F, -v OFS=, 'FNR > 1 { $4 = "08:00"; $5 = "08:04"; $6 = "08:05" } { print }' riser-r1/glue-ups.csv >theirs.csv
refused 3 "1 doubtful thing" take tread theirs.csv --replace
warns "glue-ups made in another session or on another rig than planned, the first G"
refused 3 "1 doubtful thing" take riser sessions.csv
warns "a file that was taken for study tread, expected a file of riser"
finish
