#!/bin/sh
# Prints docs/digits.md: the digits that platen shares with the certified values of NIST's sets,
# beside GNU R's and SciPy's where they are installed. PLATEN, PLATEN_TOP, PLATEN_BUILD as for tests.
set -eu
top=${PLATEN_TOP:-.}
build=${PLATEN_BUILD:-$top/build}
nist=$top/tests/reference/nist
. "$top/tests/nist_sets.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/r" "$work/scipy"
for one in mgh17 danwood rat42 chwirut2; do
    cp "$build/faults/$one.so" "$work"
    chmod 644 "$work/$one.so"
done
r='GNU R: not installed' scipy='SciPy: not installed'
if command -v Rscript >"$work/unread" 2>&1; then
    Rscript "$top/tests/nist_peers.R" "$nist" "$work/r" && r=$(cat "$work/r/version")
fi
if /usr/bin/python3 -c 'import scipy' 2>"$work/unread"; then
    /usr/bin/python3 "$top/tests/nist_peers.py" "$nist" "$work/scipy" && scipy=$(cat "$work/scipy/version")
fi

# least FILE CERTIFIED PATHS...: the fewest digits; "none" where there is no answer
least() {
    [ -f "$1" ] || { echo none; return; }
    file=$1 json=$2
    shift 2
    "$build/digits" "$file" "$json" 0 "$@" | awk '
        /is not there/ { bad = 1 }
        { if (n++ == 0 || $1 + 0 < low) low = $1 + 0 }
        END { if (bad) print "none"; else if (low < 0) print "0"; else printf "%.1f\n", low }' || true
}
# peer FILE estimate or se
peer() {
    key=e certified=$2
    [ "$2" = se ] && key=s certified=standard_deviation
    pairs= place=0
    for name in $names; do
        pairs="$pairs p/$place/$key certified/parameters/$place/$certified"
        place=$((place + 1))
    done
    # shellcheck disable=SC2086
    least "$1" "$nist/$set.json" $pairs
}
ours() {
    # shellcheck disable=SC2086
    (cd "$work" && "$PLATEN" fit --data "$nist/$set.csv" --response y $options "$@" --json) \
        >"$work/ours.json" 2>"$work/unread" || rm -f "$work/ours.json"
}
row() { # NAME OURS-PATH PEER-PATH CERTIFIED-PATH, for one figure
    printf '| %s | %s | %s | %s |\n' "$1" "$(least "$work/ours.json" "$nist/$set.json" "$2" "$4")" \
        "$(least "$work/r/$run.json" "$nist/$set.json" "$3" "$4")" \
        "$(least "$work/scipy/$run.json" "$nist/$set.json" "$3" "$4")"
}
rows() { # NAME: parameters and standard errors
    for what in estimate se; do
        words=parameters
        [ $what = se ] && words='standard deviations'
        # shellcheck disable=SC2046
        printf '| %s, %s | %s | %s | %s |\n' "$1" "$words" \
            "$(least "$work/ours.json" "$nist/$set.json" $(nist_pairs $what))" \
            "$(peer "$work/r/$run.json" $what)" "$(peer "$work/scipy/$run.json" $what)"
    done
}
table() { # KIND
    printf '\n| set and figure | platen | GNU R | SciPy |\n| --- | --- | --- | --- |\n'
    for json in "$nist"/*.json; do
        set=$(basename "$json" .json)
        nist_set "$set"
        [ $kind = "$1" ] || continue
        run=$set
        case $kind in
        mean)
            ours
            row "$set, mean" coefficients/name=intercept/estimate p/0/e certified/mean
            row "$set, sd" residual/sd r/sd certified/standard_deviation
            ;;
        anova)
            ours
            row "$set, F" "terms/name=$names/f" f certified/F
            ;;
        regression)
            ours
            rows "$set"
            ;;
        curve)
            for which in 1 2 0; do
                run=$set-$which
                if [ $which = 0 ]; then
                    ours
                    title="$set, no start"
                else
                    ours --start "$(nist_start "$json" $which)"
                    title="$set, start $which"
                fi
                rows "$title"
                row "$title, residual sum of squares" curves/0/residual/ss r/ss \
                    certified/residual_sum_of_squares
            done
            ;;
        esac
    done
}

cat <<END
# Digits

What \`platen fit\` shares with the certified values of NIST's Statistical Reference Datasets (tests/reference/nist), as
-log10 of the relative difference: the fewest of all parameters of a set, and of their standard deviations. 16: the same double.
Printed by \`make validation\` (tests/nist.sh); \`make check\` holds our column to its bounds in tests/cli/test_reference.sh.
Beside it $r (\`lm\`, \`nls\`; tests/nist_peers.R) and $scipy (\`lstsq\`, \`curve_fit\`; tests/nist_peers.py). \`none\`: no answer.

## Means

NumAcc3 and NumAcc4 cannot be had better from input in doubles (9.4 and 8.2 digits of the sd).
END
table mean
printf '\n## Regression\n\nWampler1 and 2 lie on their curve exactly; standard deviations are then 0.\n'
table regression
printf '\n## Analysis of variance\n\nInput in doubles leaves AtmWtAg 10.2, SiRstv 13.1, SmLs04 10.1 and SmLs07 4.0 digits of F.\n'
table anova
cat <<'END'

## Curves

Certified to 11 digits. `no start`: platen looks through the whole range; the others begin with every parameter at 1.
Misra1a and BoxBOD are our `saturating-exponential` with its floor at 0; the others are small curve plugins under tests/faults.
END
table curve
