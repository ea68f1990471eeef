# book trail, check and copy: what changed the book, and whether it is whole.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
refused 5 "no such book" book trail
refused 5 "no such book" book check
refused 5 "no such book" book copy x.book
open_shop
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
run 0 fit tread
sed 's/"plateau", "over"/"plateau", "share": 0.9, "over"/' tread.json >asked.json
run 0 fit asked.json # asks otherwise than what was frozen
sed 's/8 bar/7 bar/' jack.json >other.json
run 0 rig add other.json --replace # the fits of before went by the rig of before
run 0 mark tread "$(sed -n 2s/,.*//p breaks.csv)" --exclude --reason "glue starved"
run 0 fit tread

run 0 book trail
says "rig add: stones"
says "rig add: jack, in place of the one before"
says "plan tread: revision 1, 12 specimens, seed 11"
says "take tread: sessions.csv, glue-ups.csv and 1 more; 163 new, 0 corrected"
says "fit tread: of revision 1"
run 0 book trail --json
valid
says '"what": "take"'
run 0 book trail --study tread
silent "rig add"
run 0 book trail --study nothing
says "Nothing has changed the book"
keep platen.book
run 0 book check
says "platen.book is whole: 10 entries of the trail"
says "3 fits made again with the same figures"
run 0 book check --json
valid
says '"fits_made_again": 3'
same platen.book

# a copy is a book like the other, and never takes the place of a file
run 0 book copy kept.book
run 0 book check --book kept.book
run 0 fit tread --book kept.book
refused 5 "a file of that name is there" book copy kept.book
refused 5 "no/such" book copy no/such/kept.book
absent kept.book.part
refused 2 "expected platen book copy FILE" book copy
refused 2 'did you mean "check"?' book chek
refused 2 "found book check, expected book trail" book check --study tread

# one digit of one reading, changed in the file itself, is refused by name
peak=$(sed -n 3p breaks.csv | cut -d, -f7)
id=$(sed -n 3s/,.*//p breaks.csv)
LC_ALL=C sed "s/${id}peak$peak/${id}peak$(echo "$peak" | tr 0-9 1-90)/" platen.book >x.book
count=$((count + 1))
! cmp -s x.book platen.book || fail "the edit changes nothing"
for verb in "fit tread" "report tread" "book check" "mark tread"; do
    run 5 $verb --book x.book
    warns "(peak of $id) is not what was written"
    warns "platen book copy"
done
# an old book: read as it is, brought over by the first run that writes
cp "$top/tests/book/version-1.book" old.book
keep old.book
run 0 book list --book old.book
says "study tread: revision 1"
run 0 book check --book old.book
says "2 fits were made elsewhere or by another version of platen"
run 0 take tread breaks.csv --look --replace --book old.book
same old.book
absent old.book.version-1
run 0 fit tread --book old.book
warns "it was brought to it; as it was it lies at old.book.version-1"
count=$((count + 1)) # all but SQLite's header, which counts changes
cmp -s -i 100 old.book.version-1 old.book.kept || fail "the copy is not the book as it was"
run 0 book check --book old.book
says "1 fits made again"
# where it lies on a read-only medium, reading works
become_nobody
mkdir closed
cp "$top/tests/book/version-1.book" closed/platen.book
chmod 444 closed/platen.book
chmod 555 closed
as_nobody 0 fit tread --book closed/platen.book
as_nobody 0 book check --book closed/platen.book
chmod 755 closed
finish
