# mark: what happened to a joint, beside what was planned; the fit goes by it.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
open_shop
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
id() { sed -n "$1s/,.*//p" breaks.csv; }
a=$(id 2) b=$(id 3) c=$(id 4) d=$(id 5)

# members that a fit of the study has, once: strength of one joint is peak over area
mean_of() { awk -F'"' -v level="$1" '$2 == "level" && $4 == level { here = 1 }
    here && $2 == "estimate" { split($3, v, /[ :,]+/); print v[2]; exit }' out; }

# refused: what says nothing, contradicts itself, or names what is not there
refused 2 "no specimen" mark tread --lost --reason x
refused 2 "nothing that happened" mark tread "$a"
refused 2 'found "ZZZZ", expected a specimen of this plan' mark tread ZZZZ --lost --reason x
refused 2 "why it does not count" mark tread "$a" --lost
refused 2 "why it does not count" mark tread "$a" --exclude --reason ""
refused 2 "more than one of" mark tread "$a" --exclude --restore --reason x
refused 2 "KEY=VALUE" mark tread "$a" --made-as pressure
refused 2 "a pressure" mark tread "$a" --made-as "pressure=12 kN"
refused 2 "a board of this plan" mark tread "$a" --made-as board=B99
refused 2 'did you mean "board"?' mark tread "$a" --made-as baord=B1
refused 2 "a number from 1" mark tread "$a" --made-as session=0
refused 2 "a time" mark tread "$a" --made-as open_time=soon
refused 2 "expected unknown" mark tread "$a" --applied "2 bar"
refused 2 "another specimen" mark tread "$a" --swapped-with "$a"
refused 2 "2 specimens" mark tread "$a" "$b" --swapped-with "$c"
refused 2 "a day and time" mark tread "$a" --note x --at "2027-02-30"
refused 3 "no such file" mark tread "$a" --photo none.jpg
refused 1 "no plan of it" mark tread.json "$a" --lost --reason x --book none.book

# excluded: left out with its reason, and the answer with it is shown
run 0 fit tread --json
valid
says '"used": 12'
run 0 mark tread "$a" --exclude --reason "glue starved" --json
valid
says '"kind": "excluded"'
run 0 fit tread
says "$a is excluded and left out: glue starved"
says "without the excluded joint"
run 0 fit tread --json
valid
says '"used": 11'
run 0 mark tread "$a" --restore --reason "looked again"
run 0 fit tread
says "$a was excluded and counts again: looked again"
silent "without the excluded joint"
run 0 fit tread --json
says '"used": 12'
# lost: the same without the second answer
run 0 mark tread "$a" --lost --reason "dropped on the way"
run 0 fit tread
says "$a is lost and left out: dropped on the way"
silent "without the excluded joint"
run 0 mark tread "$a" --restore

# swapped: each counts as what it is. Peaks by hand: the form's, exchanged.
level() { awk -v id="$1" '$1 == id { print $3 }' planned.txt; }
peak() { awk -F, -v id="$1" '$1 == id { print $7 }' breaks.csv; }
other=$(awk -v id="$a" -v at="$(level "$a")" '$1 != id && $3 != at { print $1; exit }' planned.txt)
run 0 mark tread "$a" --swapped-with "$other" --at "2027-03-03 14:05"
says "2027-03-03 14:05"
run 0 fit tread --json
says "the labels of $a and $other were swapped"
wanted=$(awk -F, -v a="$a" -v o="$other" 'NR == FNR { split($0, f, " "); at[f[1]] = f[3]; next }
    FNR > 1 { peak[$1] = $7 }
    END { p = peak[a]; peak[a] = peak[o]; peak[o] = p
        for (id in peak) if (at[id] == at[a]) { sum += peak[id]; n++ }
        printf "%.9f", sum / n * 1000 / 600 }' planned.txt breaks.csv)
got=$(mean_of "$(level "$a") N/mm2")
count=$((count + 1))
awk -v x="$wanted" -v y="$got" 'BEGIN { exit !(x > 0 && (x - y) ^ 2 < 1e-12) }' ||
    fail "swapped: mean of $(level "$a") N/mm2 is $got, wanted $wanted"
run 0 mark tread "$a" --swapped-with "$other" # and back
run 0 fit tread --json
cp out swapped-back.json

# made as, applied unknown
run 0 mark tread "$b" --made-as "pressure=1.5 N/mm2"
run 0 fit tread
says "made 1.5 N/mm2; counted at what was made"
run 0 mark tread "$b" --applied unknown
run 0 fit tread
says "1 of 12 glue-ups have no pressure that is known"
run 0 mark tread "$c" --made-as board=B1 --note "came late"
run 0 fit tread
says "$c: board was B1"
says "$c: came late"

# a photo is kept byte for byte; all marks are listed; who made them stands in the trail
head -c 3000 /dev/urandom >joint.jpg
PLATEN_WHO="ada at the bench" "$platen" mark tread "$d" --photo joint.jpg >out 2>err || fail "photo"
run 0 mark tread
says "$d  photo joint.jpg ($(sha256sum joint.jpg | cut -c1-12))"
says "$a  excluded: glue starved"
run 0 book trail --study tread
says "mark tread: $d photo (ada at the bench)"
run 0 mark tread --json
valid
# a table with --data is not concerned, and the book is whole
run 0 book check
says "1 kept files"
says "fits made again with the same figures"
finish
