# take: filled-in forms and records into the book, all or nothing.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
refused 1 "no joint that was broken yet" fit tread
refused 1 "no joint that was broken yet" report tread
fill_day
a=$(sed -n 2s/,.*//p breaks.csv) # ids of the first joints on the form
b=$(sed -n 3s/,.*//p breaks.csv)
c=$(sed -n 4s/,.*//p breaks.csv)
c=$(sed -n 4s/,.*//p breaks.csv)

# looking writes nothing
keep platen.book
run 0 take tread --look sessions.csv glue-ups.csv breaks.csv
says "Would take"
same platen.book

# no form, no file
printf 'a,b\n1,2\n' >x.csv
refused 3 'a header that begins with "a"' take tread x.csv
warns "--rig NAME"
: >x.csv
refused 3 "found no header" take tread x.csv
head -1 breaks.csv >x.csv
run 0 take tread x.csv --look
says "Would take 0 readings"
refused 3 "1 doubtful thing" take tread x.csv
warns "x.csv: advice: found nothing that was filled in, expected readings"
refused 3 "1 doubtful thing" take tread tread-r1/breaks.csv
mkdir folder
refused 3 "folder: found a folder" take tread folder
refused 3 "no-such.csv: found no such file" take tread no-such.csv
refused 2 "expected platen take STUDY FILE..." take tread
refused 2 "did you mean --look?" take tread --lok breaks.csv

# columns
edit breaks.csv '1s/peak/peek/'
refused 3 'did you mean "peak"?' take tread x.csv
edit breaks.csv '1s/kN/mm/'
refused 3 'found "peak [mm]"' take tread x.csv
edit breaks.csv '1s/,rig/,peak [kN]/'
refused 3 'column "peak" a second time' take tread x.csv
edit breaks.csv '3s/,[^,]*$//'
refused 3 "x.csv:3:1: found 12 cells, expected 13" take tread x.csv
awk '{ sub(/cohesive/, "coh\377sive"); print }' breaks.csv >x.csv
refused 3 "found byte 0xff, expected UTF-8" take tread x.csv
edit breaks.csv '4s/cohesive/"cohesive/'
refused 3 "quote" take tread x.csv

# cells, each with its place, all in one run
edit breaks.csv "2s/2027-03-03/2027-33-03/; 2s/cohesive/cohesiv/; 3s/,30,/,3O,/; 3s/,10,/,150,/; 4s/^$c/ZZZZ/"
refused 3 'x.csv:2:8: found "2027-33-03' take tread x.csv
warns 'did you mean "cohesive"?'
warns 'found "3O", expected a number in mm'
warns 'found "150", expected 0 to 100 %'
warns 'found "ZZZZ", expected a specimen of this plan'
for text in -4 4,2 x nan 1e999 "4.2 bar" "5..4"; do
    { head -1 breaks.csv; echo "$a,,,,,,\"$text\",,,,,,"; } >x.csv
    refused 3 "found \"$text\"" take tread x.csv
done
{ head -1 breaks.csv; echo "$a,ram,,,,,,,,,,,"; } >x.csv
refused 3 'found "ram", expected a rig of the study' take tread x.csv
{ sed -n 1,2p breaks.csv; sed -n 2p breaks.csv; } >x.csv
refused 3 "one row for it: there is one in line 2" take tread x.csv
# a slip of the pencil is noticed by the check sign
slip=$(echo "$a" | sed 's/\(.\)\(.\)\(.*\)/\2\1\3/')
{ head -1 breaks.csv; echo "$slip,,,,,,4,,,,,,"; } >x.csv
[ "$slip" = "$a" ] || refused 3 "found \"$slip\"" take tread x.csv
edit glue-ups.csv 's/^G2,/G99,/'
refused 3 'found "G99"' take tread x.csv
edit glue-ups.csv '2s/08:00/08:44/'
refused 3 "x.csv:2:" take tread sessions.csv x.csv
edit sessions.csv '2s/^1,/7,/'
refused 3 'found "7"' take tread x.csv
form boards '$2 = "oak"' >x.csv
refused 3 "oak" take tread x.csv

# one bad file of several: none is taken
edit breaks.csv '3s/,30,/,3O,/'
refused 3 'found "3O"' take tread sessions.csv glue-ups.csv x.csv
run 0 book list
says " 0 readings"

# taken; the same again, and under another name, changes nothing
run 0 take tread sessions.csv glue-ups.csv breaks.csv
says "from 3 files"
keep platen.book
run 0 take tread sessions.csv glue-ups.csv breaks.csv
says "3 files were taken before"
cp breaks.csv again.csv
run 0 take tread again.csv --json
valid
says '"known_files": 1'
says '"added": 0'
same platen.book

# what contradicts the book is refused, unless --replace; 3.9 kN is 3900 N
had=$(sed -n 2p breaks.csv | cut -d, -f7)
{ head -1 breaks.csv; echo "$a,,,,,,9.9,,,,,,"; } >x.csv
refused 3 "found peak of specimen $a is 9.9 kN, expected $had kN, taken from breaks.csv" take tread x.csv
{ head -1 breaks.csv; echo "$a,,,,,,$(echo "$had" | awk '{ print $1 * 1000 }') N,,,,,,"; } >y.csv
run 0 take tread y.csv --look
same platen.book
run 0 take tread x.csv --replace --look
says "1 corrected"
same platen.book
printf '%s\n%s\n' "$(head -1 breaks.csv)" "$a,,,,,,9.8,,,,,," >z.csv
refused 3 "" take tread x.csv z.csv --replace # two files of one take that contradict each other
run 0 take tread x.csv --replace
says "1 corrected"
# an unknown book, a book that is none
refused 3 "there is no book at" take tread breaks.csv --book none.book
absent none.book

# records of force over time, by the id in the name, by --specimen, by the trace column
{ printf 'time [s],force [N]\n'; awk 'BEGIN { for (i = 0; i < 60; i++) print i / 10 ",0.4"
    for (i = 0; i <= 200; i++) print 6 + i / 10 "," 20 * i
    for (i = 0; i < 20; i++) print 26.1 + i / 10 ",5" }'; } >log.csv
cp log.csv "pull-$b.csv"
refused 1 "a record that names no specimen" take tread --rig puller log.csv
warns "--specimen ID"
refused 2 'found "ZZZZ", expected a specimen of this plan' take tread --rig puller --specimen ZZZZ log.csv
refused 2 "which records nothing" take tread --rig stones log.csv
refused 2 'found "pullar", expected a rig of the study' take tread --rig pullar log.csv
refused 2 "2 files, expected one file" take tread --rig puller --specimen "$a" log.csv "pull-$b.csv"
edit log.csv '9s/,.*/,oops/'
refused 3 'found "oops" in column "force"' take tread --rig puller --specimen "$b" x.csv
edit log.csv '1s/force .N./force [kg]/'
refused 3 "x.csv:1" take tread --rig puller --specimen "$b" x.csv
edit log.csv '1s/force/farce/'
refused 3 'no column "force"' take tread --rig puller --specimen "$b" x.csv
refused 3 'a header that begins with "time"' take tread log.csv
# the peak of the record contradicts the form's
refused 3 "found peak of specimen $b" take tread --rig puller "pull-$b.csv"
low=$(echo "$b" | tr 'A-Z' 'a-z')
run 0 take tread --rig puller --specimen "$low" log.csv --replace
says "1 corrected"
# handed in again for another joint: that is a contradiction, with and without --replace
run 0 take tread --rig puller --specimen "$b" log.csv
warns "a file taken before, as log.csv"
refused 3 "a file taken before for $b, now for $a" take tread --rig puller --specimen "$a" log.csv
warns "take the file back first"
refused 3 "a file taken before for $b, now for $a" take tread --rig puller --specimen "$a" log.csv --replace
# several joints in one file, named in the order in which they broke
{ cat log.csv; sed 1d log.csv | awk -F, '{ print $1 + 30 "," $2 / 2 }'; } >both.csv
refused 1 "2 loads" take tread --rig puller --specimen "$a,$b,$c" both.csv
refused 2 'found "ZZZZ", expected a specimen of this plan' take tread --rig puller --specimen "$a,ZZZZ" both.csv
refused 2 "\"$a\" twice" take tread --rig puller --specimen "$a,$b,$a" both.csv
refused 2 "no specimen" take tread --rig puller --specimen "," both.csv
run 0 take tread --rig puller --specimen "$a,$c" both.csv --replace --as-written
awk -F, -v id="$b" 'NR == 1 { print $0 ",specimen"; next } { print $0 "," id }' log.csv >named.csv
refused 3 "specimen \"$b\", expected $a, as --specimen says" take tread --rig puller --specimen "$a" named.csv
# the same bytes cannot be two joints
sed '2s/0.4/0.41/' log.csv >"pull-$a.csv"
cp "pull-$a.csv" "pull-$c.csv"
refused 3 "the same record for $a and for $c" take tread --rig puller "pull-$a.csv" "pull-$c.csv" --replace --as-written
run 0 fit tread --json
valid
says '"broken": 12'
finish
