# Every NIST StRD set of tests/reference/nist through `platen fit --data`, held against the certified
# values (source in each JSON; NIST prints 11 digits of the curves, 15 of the others). Autocorrelation
# of the univariate sets is not ours.
#
# Least digits: what reading the data into doubles leaves (F, sums and coefficients computed exactly
# from the rounded input), less one; of curves 10 for parameters, 9.5 for the rest, from both published
# starts and from none.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
. "$top/tests/nist_sets.sh"
build=${PLATEN_BUILD:-$top/build}
nist=$top/tests/reference/nist
for one in mgh17 danwood rat42 chwirut2; do
    cp "$build/faults/$one.so" .
    chmod 644 "$one.so"
done

fits() {
    # shellcheck disable=SC2086
    run 0 fit --data "$nist/$set.csv" --response y $options "$@" --json
    cp out fit.json
}
digits() {
    count=$((count + 1))
    "$build/digits" fit.json "$nist/$set.json" "$@" >out 2>err ||
        fail "$set: fewer digits than promised"
}
# coefficients LEAST LEAST-OF-STANDARD-ERRORS
coefficients() {
    # shellcheck disable=SC2046
    digits "$1" $(nist_pairs estimate)
    # shellcheck disable=SC2046
    digits "$2" $(nist_pairs se) "$residual/sd" certified/residual_sd
}
mean() {
    digits "$1" coefficients/name=intercept/estimate certified/mean
    digits "$2" residual/sd certified/standard_deviation
}
f_of() {
    digits "$1" "terms/name=$names/f" certified/F
}
curve() {
    coefficients 10 9.5
    digits 9.5 curves/0/residual/ss certified/residual_sum_of_squares
}

seen=0
for json in "$nist"/*.json; do
    set=$(basename "$json" .json)
    nist_set "$set" || { fail "nothing checks $set"; continue; }
    seen=$((seen + 1))
    fits
    case $set in
    NumAcc1 | NumAcc2) mean 14 13 ;;
    NumAcc3) mean 14 8.4 ;;
    NumAcc4) mean 14 7.2 ;;
    Michelso) mean 14 13 ;;
    Norris) coefficients 13.1 12.9 ;;
    Pontius) coefficients 12.5 12.8 ;;
    Longley) coefficients 13.6 13.9 ;;
    Wampler1) coefficients 14 14 ;;
    Wampler2) coefficients 12.2 14 ;;
    Wampler3) coefficients 14 13.5 ;;
    AtmWtAg) f_of 9.2 ;;
    SiRstv) f_of 12.1 ;;
    SmLs01) f_of 14 ;;
    SmLs04) f_of 9.1 ;;
    SmLs07) f_of 3.0 ;;
    *)
        [ $kind = curve ] || fail "no bound for $set"
        curve
        for which in 1 2; do
            fits --start "$(nist_start "$json" $which)"
            curve
        done
        ;;
    esac
done
# as many as were certified: 5 means, 6 regressions, 5 analyses of variance, 6 curves
count=$((count + 1))
[ $seen -eq 22 ] || fail "$seen sets, wanted 22"

# a start of nothing, and one that says no number
set=BoxBOD
nist_set BoxBOD
run 3 fit --data "$nist/BoxBOD.csv" --response y $options --start knee=2
warns 'a start for "knee"'
run 2 fit --data "$nist/BoxBOD.csv" --response y $options --start rate=fast
warns '"rate=fast"'
run 2 fit --data "$nist/BoxBOD.csv" --response y --over x --start rate=1
warns 'no --curve'
finish
