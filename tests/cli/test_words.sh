# Shop words: what is said before "Details" has no statistics terms, and each
# term under Details is explained by `platen help words`.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# Terms of statistics, as they would stand in a sentence. Ranges "right nineteen
# times in twenty" and "by chance alone" are the words used instead.
terms='p-value|p value|signific|varianc|hypothes|confiden|standard error|standard deviation'
terms="$terms|degrees? of freedom|anova|regress|null|alpha|beta|sigma|residual|coefficient|quantile|percentile"
terms="$terms|covari|correlat|estimat|parameter|likelihood|aicc|akaike|statistic|randomi[sz]|factorial|confound"
terms="$terms|heterosc|normality|distribut|two-sided|one-sided|median|deviat|interact|orthogonal|stratum|strata|\\bF\\b"

# plain FILE: the part before Details, without the study's own name, has none of these
plain() {
    count=$((count + 1))
    sed '/^Details/,$d' "$1" >plain.txt
    [ -s plain.txt ] || fail "nothing before Details in $1"
    grep -niE "$terms" plain.txt && fail "statistics words in $1"
    count=$((count + 1))
    # no doubled unit, no doubled blank or stop, no blank at a line's end, nothing unknown
    grep -nE "(N/mm2|psi|bar|mm|kN|min) \\1\\b|[^ .]  ?\\.|\\.\\.( |$)|,,|\\(\\)|\\(null\\)|\\bnan\\b|[^e]inf\\b|e\\+[0-9]| $" plain.txt |
        grep -vE "^[0-9]+:  " && fail "clumsy words in $1"
    count=$((count + 1))
    grep -nE "\\b1 (glue-ups|joints|boards|sessions|specimens|files|readings|levels|times|treatments|press hours)\\b" plain.txt &&
        fail "wrong plural in $1"
    count=$((count + 1))
    grep -nE "\\. [a-z]" plain.txt | grep -vE "e\\.g\\." && fail "a sentence begins small in $1"
    return 0
}
see() {
    run 0 "$@"
    name=$(echo "$*" | tr -c 'a-z0-9\n' '-')
    cp out "$name.txt"
    plain "$name.txt"
    grep -v 'blocks that differ in size' err >"$name.err"
    grep -niE "$terms" "$name.err" && fail "statistics words beside $*"
}

# the designs as they are installed, and the test shop's own study
for file in stair-lap one-wood strength-difference; do
    cp "$top/designs/$file.json" .
    see check $file.json
    see size $file.json
    see plan $file.json --look --seed 5
done
see size --levels 4 --scatter "12 %" --worth-noticing "15 %"
see size --as-good-as "90 %" --scatter "12 %" --scatter-from 8
see size --percentile "5 %" --scatter "12 %" --worth-noticing "15 %"
see size --levels 4 --scatter "12 %" --width-at-most "20 %"
see size --levels 2 --scatter "1.1 N/mm2" --scatter-from 6 --worth-noticing "2 N/mm2" --glue-ups-per-level 5
yes '' | head -15 >answers
see ask offered <answers
open_shop
see check tread.json
see plan tread.json --look
fill_day
see take tread sessions.csv glue-ups.csv breaks.csv
see fit tread
see fit --data "$top/datasets/bond-ingots/data.csv" --response pressure --effect metal --block ingot
see fit --data "$top/datasets/bond-ingots/data.csv" --response pressure --effect metal --random ingot --contrast "metal: iron=1, copper=-1"
see fit --data "$top/datasets/bond-ingots/data.csv" --response pressure
for kind in "" "--compare-with iron" "--best more" "--best less" "--compare-with iron --as-good-as 0.9"; do
    # shellcheck disable=SC2086
    see fit --data "$top/datasets/bond-ingots/data.csv" --response pressure --effect metal --block ingot --compare metal $kind
done
see fit --data "$top/datasets/misra1a/data.csv" --response y --over x
see rig dial jack --pressure "1.2 N/mm2" --area "600 mm2"
see book list

# every column and figure under Details has its two lines
run 0 help words
cp out words.txt
count=$((count + 1))
awk '/^[^ ]/ { if (NR > 1 && n != 2) print last ": " n " lines"; n = 0; last = $0; next } { n++ }
     END { if (n != 2) print last ": " n " lines" }' words.txt >odd
[ ! -s odd ] || fail "terms with other than two lines: $(cat odd)"
sed -n '/^Details/,$p' fit-tread.txt fit---data*ingot.txt >details.txt
for term in "standard error" "df" "AICc" "weight" "lack of fit" "residual" "mean square" "sum of squares" \
    "in-order" "after-all-others" "judged against" "F" "p" "R squared" "coefficient" "intercept" "slope" \
    "floor" "top" "knee" "rate" "half"; do
    for word in $term; do # a heading may stand on two lines
        count=$((count + 1))
        grep -q -e "$word" details.txt || fail "Details do not use the term $term: leave it out here"
    done
    grep -qE "^([a-z]+, )*$term(,.*)?$" words.txt || fail "help words does not explain $term"
done
sed -n '/^Details/,$p' plan-*.txt >details.txt
for term in efficiency "rank correlation" "degrees of freedom"; do
    count=$((count + 1))
    grep -q -e "$term" details.txt || fail "Details do not use the term $term: leave it out here"
    grep -q -e "$term" words.txt || fail "help words does not explain $term"
done
finish
