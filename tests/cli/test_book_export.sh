# book export and add: everything out as files, and back in, byte for byte.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
refused 5 "no such book" book export out-1
open_shop
fill_day
# names that a file system, SQL or CSV might trip over
odd=$(printf 'a "b", '\''c'\'';--\342\200\256x.csv')
cp breaks.csv "$odd"
run 0 take tread sessions.csv glue-ups.csv "$odd" --keep
run 0 fit tread
a=$(sed -n 2s/,.*//p breaks.csv)
printf 'two lines,\n"and a quote"\r\n; \\ end ' >reason
run 0 mark tread "$a" --exclude --reason "$(cat reason; echo .)" --note ""
head -c 70000 /dev/urandom >joint.jpg
run 0 mark tread "$a" --photo joint.jpg
awk -F, -v OFS=, 'FNR == 2 { $7 = $7 + 0.07 } { print }' breaks.csv >corrected.csv
run 0 take tread corrected.csv --replace
run 0 take tread --withdraw corrected.csv --reason "wrong"
sed 's/8 bar/7 bar/' jack.json >other.json
run 0 rig add other.json --replace
run 0 fit tread
keep platen.book
run 0 book export out-1 --json
valid
same platen.book
# kept files come back byte for byte, long texts lie beside
for file in sessions.csv glue-ups.csv breaks.csv joint.jpg; do
    count=$((count + 1))
    cmp -s $file "out-1/kept/$(sha256sum $file | cut -d' ' -f1)" || fail "$file is not in out-1/kept"
done
count=$((count + 1))
cmp -s tread.json "out-1/texts/$(sha256sum tread.json | cut -d' ' -f1)" || fail "the study's text is not there"
# every reading that counts, in the file as in the book: strict CSV with as many cells as its header
count=$((count + 1))
[ "$(head -1 out-1/reading.csv)" = "reading,study,source,subject,id,quantity,text,value,unit,place,entry,replaced_by,ended_at,ended,seal" ] ||
    fail "header of reading.csv"

run 0 book add out-1 --book new.book
says "Made a book: new.book"
run 0 book check --book new.book
run 0 book export out-2 --book new.book
count=$((count + 1))
diff -r out-1 out-2 >err || fail "the export of the new book is another"
run 0 fit tread --json
cp out before.json
run 0 fit tread --json --book new.book
count=$((count + 1))
cmp -s out before.json || fail "the new book gives another answer"

# one study: with the tables that the description names, columns and all
awk -F, -v OFS=, 'FNR == 1 { print; next } { $3 = "Adalbertina"; print }' breaks.csv >named.csv
run 0 take tread named.csv
run 0 book export --study tread one
says "without the names of operators"
count=$((count + 1))
! grep -rqF Adalbertina one || fail "a name is in the export"
cmp -s tread.json one/study.json || fail "one/study.json is not the study's file"
for table in joints readings marks; do
    count=$((count + 1))
    [ "$(awk -F'"' -v url="$table.csv" '$2 == "url" { here = $4 == url }
        here && $2 == "titles" { printf "%s%s", n++ ? "," : "", $4 }' one/csv-metadata.json)" = "$(head -1 one/$table.csv)" ] ||
        fail "csv-metadata.json says other columns than $table.csv has"
done
count=$((count + 2))
[ "$(wc -l <one/joints.csv)" -eq 12 ] || fail "one/joints.csv has not 11 joints" # one is excluded
grep -qF '"@context": "http://www.w3.org/ns/csvw"' one/csv-metadata.json || fail "no context"
for name in jack stones puller; do
    count=$((count + 1))
    [ -s one/rig-$name.json ] || fail "one/rig-$name.json is missing"
done
# its table goes through the fit of bare tables as it is
run 0 fit --data one/joints.csv --response strength --over "pressure made" --planned pressure --glue-up glue_up --json
run 0 book export --study tread two --with-names
count=$((count + 1))
grep -qF Adalbertina two/readings.csv || fail "the names that were asked for are missing"
refused 5 "something of that name is there" book export --study tread two
refused 2 "an export of everything" book export three --with-names
refused 3 "neither a file nor a study" book export --study nothing three
absent three

# refused: where something is, what is none, what was edited
refused 5 "something of that name is there" book export out-1
refused 5 "something of that name is there" book export tread.json
refused 3 "a book that holds something" book add out-1
refused 3 "no such file" book add no-such --book x.book
refused 3 "a book itself is opened with --book" book add platen.book --book x.book
absent x.book
mkdir other
echo '{}' >other/book.json
refused 3 "no export of a book" book add other --book x.book
absent x.book
spoil() { # FILE SED TEXT: one file of the export changed
    rm -rf other
    cp -r out-1 other
    LC_ALL=C sed -i "$2" other/$1
    count=$((count + 1))
    ! cmp -s out-1/$1 other/$1 || fail "the edit changes nothing: $2"
    refused "${4:-3}" "$3" book add other --book x.book
    absent x.book
}
spoil reading.csv '2s/1/2/' "other bytes than were exported"
spoil "texts/$(sha256sum tread.json | cut -d' ' -f1)" '1s/{/{ /' "other bytes than its name says"
spoil "kept/$(sha256sum breaks.csv | cut -d' ' -f1)" '1s/p/q/' "other bytes than its name says"
spoil book.json 's/"book": 2/"book": 3/' "an export of another version"
spoil book.json 's/"table": "rig"/"table": "rag"/' "other tables"
# with its digest made to match, the seals still tell
reseal() {
    old=$(sha256sum "out-1/$1" | cut -d' ' -f1)
    rm -rf other
    cp -r out-1 other
    LC_ALL=C sed -i "$2" "other/$1"
    count=$((count + 1))
    ! cmp -s "out-1/$1" "other/$1" || fail "the edit changes nothing: $2"
    sed -i "s/$old/$(sha256sum "other/$1" | cut -d' ' -f1)/" other/book.json
    refused "$4" "$3" book add other --book x.book
    absent x.book
}
reseal reading.csv '5s/"kN"/"N"/; 5s/"[^"]*","kN"/"9","kN"/; 5s/"\([0-9A-Z]*\)","/"\1x","/' "is not what was written" 5
reseal reading.csv '$d' "is not all there" 5
reseal reading.csv '3s/,[^,]*$//' "a line of another length" 3
reseal reading.csv '3s/^2,/two,/' 'found "two", expected a number' 3
reseal reading.csv '1s/place/plaice/' 'column "plaice"' 3
reseal rig.csv '2s/"[0-9a-f]*",/"..\/..\/tread.json",/' "no digest" 3
reseal rig.csv '$s/"$//' "" 3
mkdir closed
become_nobody
chmod 555 closed
chmod a+r platen.book
as_nobody 5 book export closed/out --book platen.book
absent closed/out
finish
