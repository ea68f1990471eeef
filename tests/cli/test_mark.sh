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
refused 2 "a number from 1 to 1" mark tread "$a" --made-as session=2
refused 2 "a number from 1 to 12" mark tread "$a" --made-as glue_order=13
refused 2 "a number from 1 to" mark tread "$a" --made-as break_order=0
refused 2 "at most 10 times the highest level" mark tread "$a" --made-as "pressure=180 bar" --made-as "pressure=1e30 N/mm2"
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
cp out with.json
run 0 mark tread "$a" --exclude --reason "glue starved" --json
valid
says '"kind": "excluded"'
run 0 fit tread
says "$a is excluded and left out: glue starved"
says "without the excluded joint"
says "; the highest average "
run 0 fit tread --json
valid
says '"used": 11'
# the figures with it are those of the fit before it was excluded
with=$(awk -F'[:,]' '/"with_excluded"/ { here = 1 } here && /"(used|sd|height|error_sd)":/ { gsub(/ /, ""); print $1 $2 }' out)
before=$(awk -F'[:,]' '/"(height|error_sd)":/ { gsub(/ /, ""); print $1 $2 }' with.json)
count=$((count + 2))
says '"excluded": 1'
echo "$with" | grep -qF '"used"12' || fail "not all are in the second fit: $with"
for figure in height error_sd; do
    [ "$(echo "$with" | grep "\"$figure\"")" = "$(echo "$before" | grep "\"$figure\"" | head -1)" ] ||
        fail "$figure with the excluded joint: $with, before: $before"
done
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

# nothing that a terminal might obey comes out as text; JSON has it as it was written
esc=$(printf '\033[31mred\007\302\233')
run 0 mark tread "$c" --note "$esc"
says '?[31mred???'
run 0 fit tread
says '?[31mred???'
count=$((count + 1))
! LC_ALL=C grep -q "$(printf '[\001-\010\013-\037\177]')" out || fail "a control character reaches the terminal"
run 0 mark tread --json
says '\u001b[31mred\u0007'

# nor does a line end forge a line of a list, nor an id given twice a second mark
PLATEN_WHO=$(printf 'eve\n  99  2027-01-01 00:00  take tread: forged') "$platen" mark tread "$c" "$c" \
    --note "$(printf 'one\n- two')" --reason "$(printf 'x\ny')" >out 2>err || fail "two lines"
count=$((count + 2))
[ "$(grep -c . out)" -eq 1 ] || fail "more than one line for one mark"
says "$c  note one - two: x y"
run 0 book trail
! grep -q '^ *99 ' out || fail "a line of the trail is forged"
run 0 fit tread
says "- $c: one - two"

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
# what the forms say was done stands beside what was planned, and counts: orders and sessions.
# Columns of joints.csv by name; the planned ones from a study without times.
column() { # NAME: "id value" of one column of done/joints.csv
    awk -F, -v name="$1" 'NR == 1 { for (i = 1; i <= NF; i++) { sub(/ \[.*/, "", $i); if ($i == name) at = i } next }
        { print $1, $at }' done/joints.csv
}
run 0 book export --study tread done
column break_order >planned-break
column glue_order >planned-glue
rm -r done
# the first and second joint on the break form were broken the other way round, and the first
# two glue-ups glued so; G1 in session 2, if there is one
awk -F, -v OFS=, 'NR == FNR { at[FNR] = $4; next } FNR == 2 { $4 = at[3] } FNR == 3 { $4 = at[2] } { print }' breaks.csv breaks.csv >turned.csv
awk -F, -v OFS=, 'FNR == 2 { $4 = "08:10"; $5 = "08:14"; $6 = "08:15"; $7 = "08:45" } { print }' glue-ups.csv >late.csv
refused 3 "1 doubtful thing" take tread turned.csv --replace
run 0 take tread turned.csv late.csv --replace --as-written
run 0 fit tread
says "2 joints were broken in another order than planned"
says "12 glue-ups were glued in another order than planned"
run 0 book export --study tread done
count=$((count + 3))
[ "$(column break_order | diff planned-break - | grep -c '^>')" -eq 2 ] || fail "not two joints changed places in the order of breaking"
first=$(sed -n 2s/,.*//p glue-ups.csv)
one=$(awk -v g="$first" '$2 == g { print $1; exit }' planned.txt)
[ "$(column glue_order | awk -v id="$one" '$1 == id { print $2 }')" -eq 12 ] || fail "$first was glued last"
rm -r done
# a mark has the last word
run 0 mark tread "$one" --made-as glue_order=1
run 0 book export --study tread done
[ "$(column glue_order | awk -v id="$one" '$1 == id { print $2 }')" -eq 1 ] || fail "the mark does not count"
# a table with --data is not concerned, and the book is whole
run 0 book check
says "1 kept files"
says "fits made again with the same figures"
finish
