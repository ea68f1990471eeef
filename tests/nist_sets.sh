# What `platen fit` is asked for each certified set of tests/reference/nist: sourced by
# tests/cli/test_reference.sh, which holds the digits, and by tests/nist.sh, which prints them.

# nist_set SET: kind (mean, regression, anova, curve), options, names of the parameters in
# certified order, where they stand in the answer. Fails for a set that it does not know.
nist_set() {
    at=coefficients residual=residual
    case $1 in
    NumAcc[1-4] | Michelso) kind=mean options= names=intercept ;;
    Norris) kind=regression options="--covariate x" names="intercept x" ;;
    Longley)
        kind=regression names="intercept x1 x2 x3 x4 x5 x6"
        options="--covariate x1 --covariate x2 --covariate x3 --covariate x4 --covariate x5 --covariate x6"
        ;;
    Pontius) kind=regression options="--over x --curve polynomial:2" names="c0 c1 c2" ;;
    Wampler[123])
        kind=regression options="--over x --curve polynomial:5" names="c0 c1 c2 c3 c4 c5"
        ;;
    AtmWtAg | SiRstv) kind=anova options="--effect instrument" names=instrument ;;
    SmLs0[147]) kind=anova options="--effect treatment" names=treatment ;;
    Misra1a | BoxBOD)
        kind=curve options="--over x --curve saturating-exponential --floor 0" names="top rate"
        ;;
    DanWood) kind=curve options="--over x --curve danwood --plugin danwood.so" names="b1 b2" ;;
    Rat42) kind=curve options="--over x --curve rat42 --plugin rat42.so" names="b1 b2 b3" ;;
    Chwirut2) kind=curve options="--over x --curve chwirut2 --plugin chwirut2.so" names="b1 b2 b3" ;;
    MGH17) kind=curve options="--over x --curve mgh17 --plugin mgh17.so" names="b1 b2 b3 b4 b5" ;;
    *) return 1 ;;
    esac
    case $options in
    *--over*) at=curves/0/parameters residual=curves/0/residual ;;
    esac
}

# nist_pairs estimate or se: what `digits` compares of our answer.
nist_pairs() {
    place=0 certified=$1
    [ "$1" = se ] && certified=standard_deviation
    for name in $names; do
        printf '%s/name=%s/%s certified/parameters/%d/%s ' "$at" "$name" "$1" "$place" "$certified"
        place=$((place + 1))
    done
}

# nist_start JSON 1 or 2: the published start as --start takes it.
nist_start() {
    sed -n "/\"start_$2\"/,/]/p" "$1" | tr -d ' ,' | grep -E '^-?[0-9.]' | {
        sep= line=
        for name in $names; do
            read -r value
            line="$line$sep$name=$value"
            sep=,
        done
        echo "$line"
    }
}
