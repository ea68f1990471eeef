# book export --study and book add: one study out of a book and into another one.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
fill_day
odd=$(printf 'a "b", '\''c'\'';--\342\200\256x.csv')
awk -F, -v OFS=, 'FNR == 1 { print; next } { $3 = "Ada"; $13 = "\" spaced, and \"\"quoted\"\" \""; print }' breaks.csv >"$odd"
run 0 take tread sessions.csv glue-ups.csv "$odd" --keep
a=$(sed -n 2s/,.*//p breaks.csv) b=$(sed -n 3s/,.*//p breaks.csv)
printf 'two lines,\n"and a quote"\r\n; \\ end ' >reason
run 0 mark tread "$a" --exclude --reason "$(cat reason; echo .)" --at "2027-03-03 14:05"
head -c 70000 /dev/urandom >joint.jpg
run 0 mark tread "$b" --photo joint.jpg --note "as it came off"
run 0 fit tread
run 0 book export --study tread one
run 0 book export --study tread named --with-names
count=$((count + 5))
! grep -rqF Ada one || fail "a name is in the export"
grep -qF Ada named/readings.csv || fail "the names that were asked for are missing"
cmp -s joint.jpg "one/kept/$(sha256sum joint.jpg | cut -d' ' -f1)" || fail "the photo is not there"
[ "$(find one/kept -type f | wc -l)" -eq 1 ] || fail "files with names in them went along"
[ "$(find named/kept -type f | wc -l)" -eq 4 ] || fail "kept files did not go along with the names"

# into a new book: the same answer, and the same export again, to the byte
run 0 fit tread --json
cp out before.json
for folder in one named; do
    run 0 book add $folder --book $folder.book --json
    valid
    says '"study": "tread"'
    says "\"folder\": \"$folder\""
    run 0 book check --book $folder.book
    says "1 fits were made elsewhere or by another version of platen, and not made again"
    run 0 mark tread --book $folder.book
    says "2027-03-03 14:05  $a  excluded: two lines,"
    names=
    [ $folder = one ] || names=--with-names
    run 0 book export --study tread again $names --book $folder.book
    count=$((count + 1))
    diff -r $folder again >err || fail "the export of what came in is another"
    rm -r again
    run 0 fit tread --json --book $folder.book
    count=$((count + 1))
    cmp -s out before.json || fail "the same study gives another answer in another book"
    run 0 book check --book $folder.book
    run 0 book trail --book $folder.book
    says "add tread: revision 1, 12 specimens,"
    says "from another book"
done

# into a book that holds other things; refused where something is in its way
sed 's/"study": "tread"/"study": "riser"/' tread.json >riser.json
for rig in stones jack puller; do run 0 rig add $rig.json --book other.book; done
run 0 plan riser.json --seed 5 --book other.book
run 0 book add one --book other.book
says "other.book holds study tread of one now"
run 0 book list --book other.book
says "study riser"
says "study tread: revision 1"
run 3 fit riser --book one.book
refused 3 'a study "tread" already' book add one
keep one.book
run 3 book add one --book one.book
same one.book
sed 's/8 bar/7 bar/' jack.json >jack-7.json
run 0 rig add jack-7.json --book third.book
run 0 plan riser.json --seed 11 --book third.book # the same draw: the same ids
keep third.book
run 3 book add one --book third.book
warns 'a rig "jack" with other settings'
warns "specimen id \"$a\" of revision 1 of \"riser\""
same third.book

# what was edited, or is no export, is refused; no book is made of it
bad() { # FILE SED TEXT [STATUS]
    rm -rf bad
    cp -r one bad
    LC_ALL=C sed -i "$2" "bad/$1"
    count=$((count + 1))
    ! cmp -s "one/$1" "bad/$1" || fail "the edit changes nothing: $2"
    refused "${4:-3}" "$3" book add bad --book x.book
    absent x.book
}
bad readings.csv '1s/place/plaice/' 'bad/readings.csv:1: found column "plaice", expected place'
bad readings.csv '3s/,[^,]*$//' "a line of another length, expected 8 cells"
bad readings.csv '$s/^[a-z-]*/bench/' 'found "bench", expected specimen, glue-up, session or board'
bad readings.csv "s/^specimen,$a,/specimen,ZZZZ,/" 'found "ZZZZ", expected a specimen of plan.json'
bad readings.csv 's/,kN,[0-9.]*,/,kN,4e999,/' 'found "4e999", expected a number'
bad readings.csv '2s/[0-9a-f]\{64\}/..\/..\/..\/etc\/passwd/' "expected a file of files.csv"
bad files.csv '2s/^[0-9a-f]*/..\/..\/x/' "no digest"
bad files.csv '2s/Z$//' "expected a time such as 2027-03-03T14:05:00Z"
bad files.csv '2p' "one a second time"
bad files.csv '1s/name/nmae/' 'column "nmae"'
bad marks.csv 's/,excluded,/,exclude,/' 'found "exclude", expected lost'
bad marks.csv "s/^$a,/ZZZZ,/" 'found "ZZZZ", expected a specimen of plan.json'
bad marks.csv 's/2027-03-03T/2027-13-03T/' "expected times such as"
bad marks.csv 's/joint.jpg,[0-9a-f]*/joint.jpg,..\/..\/joint.jpg/' "a photo without a digest"
bad "kept/$(sha256sum joint.jpg | cut -d' ' -f1)" '1s/^/x/' "other bytes than its name says"
bad plan.json 's/"revision":1/"revision":0/' "no revision"
bad plan.json "0,/$a/s/$a/$b/" ""
bad study.json 's/"plateau"/"plataeu"/' 'did you mean "plateau"?'
bad rig-jack.json 's/"jack"/"jill"/' 'found rig "jill", expected jack'
bad rig-jack.json 's/8 bar/8 beer/' "beer"
bad fit.json '1s/{/{{/' ""
rm -rf bad
cp -r one bad
rm bad/study.json
refused 3 "neither book.json nor study.json" book add bad --book x.book
absent x.book
for file in plan.json files.csv readings.csv marks.csv; do
    rm -rf bad
    cp -r one bad
    rm bad/$file
    refused 3 "no such file" book add bad --book x.book
    absent x.book
done
rm -rf bad
cp -r one bad
rm bad/rig-*.json bad/fit.json bad/joints.csv # nothing that the record rests on
run 0 book add bad --book x.book
run 0 book check --book x.book
finish
