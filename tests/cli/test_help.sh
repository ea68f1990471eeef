# Help is true: every example it shows runs, the manual page is sound roff, and what
# the shells read to finish words names every verb and every option.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# The shop of the examples, with a day of invented readings; two joints of its plan
# stand for K7M3 and P2Q4.
cp "$top/designs/stair-lap.json" .
for rig in "$top"/designs/rigs/*.json; do
    cp "$rig" .
    run 0 rig add "$rig"
done
run 0 plan stair-lap.json --seed 20260302
"${PLATEN_BUILD:-$top/build}/invent" platen.book stair-lap filled 7 >out 2>err || fail "invent"
cp filled/*.csv .
first=$(ls pull-*.csv | sed -n '1s/pull-\(.*\)\.csv/\1/p')
second=$(awk -F, -v first="$first" 'NR > 1 && $1 != first { print $1; exit }' breaks.csv)
sed "2s/,[^,]*$/,looked at again/" breaks.csv >corrected.csv
cp "$top/tests/reference/study/stair-lap.csv" strengths.csv
sed -i '1s/strength,pressure/strength [N\/mm2],pressure [N\/mm2]/' strengths.csv
printf 'dial [bar],force [kN]\n1,0.31\n2,0.63\n3,0.92\n4,1.26\n5,1.55\n' >points.csv
run 0 take stair-lap --as-written sessions.csv glue-ups.csv breaks.csv # next goes on from readings
awk -F, 'NR == 1 { print $2 "," $5 ",wood"; next } { print $2 "," $5 "," ($5 == "larch" && $2 > 7) }' \
    strengths.csv >bounds.csv # invented: strong larch broke in the wood
mkdir kept
yes "" | head -15 >answers.txt

verbs=$("$platen" help | awk '/^  [a-z]/ && $1 != "platen" { print $1 }')
for verb in $verbs; do
    run 0 help "$verb"
    awk '/^  platen / { sub(/^  /, ""); print }' out >examples
    count=$((count + 1))
    [ -s examples ] || fail "platen help $verb shows no example"
    while IFS= read -r example; do
        typed=$(printf '%s\n' "$example" | sed "s/K7M3/$first/g; s/P2Q4/$second/g; s|^platen|\"$platen\"|")
        count=$((count + 1))
        (eval "$typed") >out 2>err <answers.txt || fail "an example of help $verb: $example"
    done <examples
done

# the manual page
run 0 help man
for verb in $verbs; do says ".SS $verb"; done
says '\fB\-\-miss\-at\-most\fR \fICHANCE\fR'
if command -v groff >/dev/null; then
    count=$((count + 1))
    groff -man -Tutf8 -ww -z out 2>err || fail "roff"
    [ ! -s err ] || fail "roff has something to say"
else
    echo "SKIPPED: no groff here to read the manual page"
fi

# completion: in bash as it is typed; the others by what they name
complete_words() { # word ... as typed, the last one unfinished
    bash -c '. ./platen-completion.bash
        COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
        _platen
        printf "%s\n" "${COMPREPLY[@]}"' bash "$@" >out 2>err || fail "completion of $*"
}
"$platen" help bash >platen-completion.bash
complete_words platen si
says size
silent sheet
complete_words platen rig ca
says calibrate
complete_words platen size --mi
says --miss-at-most
complete_words platen plan stair
says stair-lap.json
complete_words platen fit --data stre
says strengths.csv
for shell in bash zsh fish; do
    run 0 help $shell
    cp out $shell.words
    for verb in $verbs; do
        says "$verb"
        "$platen" help "$verb" | sed -n 's/^  --\([a-z-]*\).*/\1/p' | while read -r option; do
            grep -qF -e "$option" $shell.words || echo "$verb --$option"
        done >missing
        count=$((count + 1))
        [ ! -s missing ] || fail "$shell does not know $(cat missing)"
    done
done
count=$((count + 1))
bash -n bash.words || fail "bash cannot read its file"
if command -v zsh >/dev/null; then zsh -n zsh.words || fail "zsh cannot read its file"; fi

refused 2 'did you mean "words"?' help wrods
refused 2 'did you mean "size"?' help siez
finish
