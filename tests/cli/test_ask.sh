# ask: answers from a script, each checked at once by the study's own reader; what
# it writes passes check; nothing is written over, and nothing half answered.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# asks STATUS NAME ARGS...: answers come from the file `answers`
asks() {
    wanted=$1
    shift
    "$platen" ask "$@" <answers >out 2>err
    got=$?
    count=$((count + 1))
    [ "$got" -eq "$wanted" ] || fail "platen ask $*: exit $got, wanted $wanted"
}
# holds FILE TEXT
holds() { count=$((count + 1)); tr -d '\n ' <"$1" | grep -qF -e "$2" || fail "$1 lacks $2"; }

# nothing but what is offered
yes '' | head -15 >answers
asks 0 plain
says "Written to plain.json. Next: platen check plain.json"
run 0 check plain.json
run 0 plan plain.json --look --seed 1
run 0 size plain.json
count=$((count + 1))
[ "$(grep -c '"note"' plain.json)" -ge 5 ] || fail "few notes in plain.json"

# every question answered
cat >answers <<'END'
1
0.1, 0.2, 0.3, 0.5 N/mm2
beech, larch
double-lap, 60 x 50 mm
180 x 60 x 12 mm
4 of 1200 x 150 x 12 mm
PUR, 20 min
3
3 h
2 d
10 %
12 % of 8
2
weights, air-press; pull-bench
How "hard" \ is hard?
END
asks 0 whole
holds whole.json '"levels":["0.1N/mm2","0.2N/mm2","0.3N/mm2","0.5N/mm2"]'
holds whole.json '"levels":["beech","larch"],"set_by":"hand","comes_with":"board"'
holds whole.json '"for_each":"species"'
holds whole.json '"kind":"double-lap","width":"60mm","overlap":"50mm"'
holds whole.json '"species":"larch","count":4,"length":"1200mm","width":"150mm","thickness":"12mm"'
holds whole.json '"stations":3'
holds whole.json '"scatter":{"cv":"12%","glue_ups":8}'
holds whole.json '"rigs":["weights","air-press","pull-bench"]'
holds whole.json '"breaking":{"note":"rig:theonethatbreaks,onceitisinthebook.","rig":"pull-bench"}'
for rig in "$top"/designs/rigs/*.json; do run 0 rig add "$rig"; done
run 0 check whole.json
says 'whole: How "hard" \ is hard?'
quiet "refused|no rig"
run 0 plan whole.json --look --seed 1

# the other question; a larger joint than was offered brings its own piece
printf '2\ncoats\none coat, two coats\noak\nblock-shear, 2 x 2 in\n\n\n\n\n\n\n1.2 N/mm2\n0.9 N/mm2\nenough\n\n\n' >answers
asks 0 coats
holds coats.json '"levels":["onecoat","twocoats"]'
holds coats.json '"kind":"block-shear","width":"2in","height":"2in","adherend":{"length":"6in","width":"2in"'
run 0 check coats.json

# like a study that is there: an empty answer leaves all as it is
yes '' | head -15 >answers
asks 0 again --like "$top/designs/stair-lap"
run 0 check again.json --json
says 'again'
sed 's/"study": "again"/"study": "stair-lap"/; /"note": "Begun/d' again.json >mine.json
run 0 check mine.json
cp out mine.txt
sed '/^  "title"/d' "$top/designs/stair-lap.json" >theirs.json
run 0 check theirs.json
count=$((count + 1))
cmp -s out mine.txt || fail "ask --like changed what it was not asked to"
asks 0 once --like "$top/designs/one-wood.json"
asks 0 more --like "$top/designs/strength-difference.json"
run 0 check more.json
# one wood where there were two
printf '\nash\n\n\n\n\n\n\n\n\n\n\n\n\n' >answers
asks 0 single --like "$top/designs/stair-lap.json"
run 0 check single.json
says "6 levels"
silent "larch|beech"

# each answer is checked at once: place, what was found, what was expected
printf '1\n0.2, 0.5, 1 furlong\n' >answers
asks 3 bad
warns 'answer 2: found "0.2 furlong", expected pressures on the bond with their unit'
absent bad.json
printf '3\n' >answers
asks 3 bad
warns 'answer 1: found "3", expected 1 or 2'
printf '\n\n\nlap 40\n' >answers
asks 3 bad
warns 'answer 4: found "lap 40", expected a kind and two sizes'
printf '\n\n\n\n110 x 20 x 20 mm\n' >answers
asks 3 bad
warns 'answer 5: /joint/width: found "40 mm", expected at most the adherend'
printf '\n\n\n\n\n6 of 50 x 20 x 20 mm\n' >answers
asks 3 bad
warns "a board too small for one specimen"
printf '\n\n\n\n\n\n\n0\n' >answers
asks 3 bad
warns 'answer 8: found "0", expected a whole number from 1 to 100'
printf '\n\n\n\n\n\n\n\n45\n' >answers
asks 3 bad
warns "answer 9: /times/clamp"
printf '\n\n\n\n\n\n\n\n\n\n\nhuge of 8\n' >answers
asks 3 bad
warns "answer 12: /scatter/sd"
printf '1\n\377\376\n' >answers
asks 3 bad
# answers that end too soon
printf '1\n\n' >answers
asks 3 bad
warns "an end after 2 answers"
asks 3 bad --json </dev/null
valid
absent bad.json

# what is refused before the first question, and nothing written over
keep plain.json
yes '' | head -15 >answers
asks 5 plain
warns "a file that is there already"
same plain.json
asks 2 "Two Words"
asks 3 new --like no-such-study
asks 0 new --to deep/er
holds deep/er/new.json '"study":"new"'
asks 0 told --json
valid
says '"file": "told.json"'

# at a terminal: questions in words, what is offered in brackets, a wrong answer asked again
if command -v script >/dev/null; then
    { printf '1\n0.2, 0.5 furlong\n0.3, 0.6, 1.2, 2 N/mm2\n'; yes '' | head -13; sleep 1; } |
        timeout 20 script -qec "\"$platen\" ask typed" /dev/null >out 2>err
    says "1. What do you want to find out?"
    says 'found "0.2 furlong", expected pressures on the bond'
    says "[lap, 40 mm x 30 mm]"
    says "Written to typed.json."
    count=$((count + 1))
    [ "$(grep -c "^2. Which levels of pressure" out)" -eq 2 ] || fail "a wrong answer is not asked again"
    holds typed.json '"levels":["0.3N/mm2","0.6N/mm2","1.2N/mm2","2N/mm2"]'
else
    echo "SKIPPED: no script(1) here: nobody types"
fi
finish
