# The book: where it lies, what is no book, and who may write it.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
run 0 book list
says "study tread: revision 1"
says "12 specimens"
says "rig jack: added"
run 0 book list --json
valid
says '"study": "tread"'
refused 2 'found "lst", expected list' book lst
refused 2 "expected platen book list" book list more

# --book before PLATEN_BOOK before ./platen.book
mv platen.book shop.book
refused 5 "platen.book: found no such book" book list
PLATEN_BOOK=shop.book
export PLATEN_BOOK
run 0 book list
run 5 book list --book none.book
warns "none.book: found no such book"
unset PLATEN_BOOK
cp shop.book platen.book

# no book: a folder, an empty file, a text, a book cut short, junk
mkdir folder.book
refused 5 "folder.book: found a folder" book list --book folder.book
: >empty.book
refused 5 "empty.book: found an empty file" book list --book empty.book
cp tread.json text.book
keep text.book
refused 5 "a file that is no book" book list --book text.book
refused 5 "a file that is no book" rig add jack.json --book text.book
refused 5 "a file that is no book" plan tread.json --book text.book
refused 5 "a file that is no book" take tread.json breaks.csv --book text.book
same text.book
head -c 6000 shop.book >short.book
keep short.book
run 5 book list --book short.book
run 5 fit tread --book short.book
same short.book
refused 5 "no/such/x.book" rig add jack.json --book no/such/x.book
refused 5 "" book list --book ''

# read-only: read by the verbs that read, refused by those that write, unchanged
become_nobody
form breaks '$13 = "seen again"' >note.csv
mkdir closed
cp shop.book closed/platen.book
keep closed/platen.book
chmod 444 closed/platen.book
chmod 555 closed
chmod a+r ./*.csv ./*.json
as_nobody 0 book list --book closed/platen.book
says "study tread"
as_nobody 0 rig show jack --book closed/platen.book
as_nobody 0 check tread.json --book closed/platen.book
as_nobody 0 take tread note.csv --look --book closed/platen.book
says "Would take"
as_nobody 0 fit tread --book closed/platen.book
says "squeezing harder"
warns "advice" # the answer is given; that it is not kept in the book is said
as_nobody 5 take tread note.csv --book closed/platen.book
warns "closed/platen.book"
as_nobody 5 rig add jack.json --replace --book closed/platen.book
as_nobody 5 plan tread.json --seed 12 --book closed/platen.book
as_nobody 5 take tread note.csv --book closed/platen.book --json
valid
as_nobody 5 rig add jack.json --book closed/new.book
warns "closed"
same closed/platen.book
# pages and sheets where nothing may be written
as_nobody 5 sheet tread --to closed/sheets --book closed/platen.book
warns "closed/sheets"
as_nobody 5 report tread --to closed/page.html --book closed/platen.book
warns "closed/page.html"
same closed/platen.book
chmod 000 closed/platen.book
as_nobody 5 book list --book closed/platen.book
warns "permission denied"
chmod 755 closed
finish
