# NIST StRD sets through `platen fit --data`, held against the certified values in
# tests/reference/nist (source in each JSON). The least digits: 11 for the linear
# sets; for analyses of variance what input in doubles allows (10.2, 13.1, 15, 10.1
# and 4.0 digits: F computed exactly from the rounded input), less one; 9 for the
# curves, whose certified values have 11 digits.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
nist=$top/tests/reference/nist

# fits SET OPTIONS...; then digits LEAST PATH CERTIFIED-PATH ...
fits() {
    set_name=$1
    shift
    run 0 fit --data "$nist/$set_name.csv" --response y "$@" --json
    cp out fit.json
}
digits() {
    count=$((count + 1))
    "$PLATEN_BUILD/digits" fit.json "$nist/$set_name.json" "$@" >out 2>err ||
        fail "$set_name: fewer digits than promised"
}
coef() { # NAME PLACE: estimate and standard error
    echo "coefficients/name=$1/estimate certified/parameters/$2/estimate" \
        "coefficients/name=$1/se certified/parameters/$2/standard_deviation"
}
param() {
    echo "curves/0/parameters/name=$1/estimate certified/parameters/$2/estimate" \
        "curves/0/parameters/name=$1/se certified/parameters/$2/standard_deviation"
}
residual="residual/ss certified/residual_sum_of_squares residual/sd certified/residual_sd"
curve_residual="curves/0/residual/ss certified/residual_sum_of_squares \
    curves/0/residual/sd certified/residual_sd"

fits Norris --covariate x
digits 11 $(coef intercept 0) $(coef x 1) $residual r_squared certified/r_squared
fits Norris --over x --curve line
digits 11 $(param intercept 0) $(param slope 1) $curve_residual
fits Pontius --over x --curve polynomial:2
digits 11 $(param c0 0) $(param c1 1) $(param c2 2) $curve_residual
fits Longley --covariate x1 --covariate x2 --covariate x3 --covariate x4 --covariate x5 \
    --covariate x6
digits 11 $(coef intercept 0) $(coef x1 1) $(coef x2 2) $(coef x3 3) $(coef x4 4) $(coef x5 5) \
    $(coef x6 6) $residual r_squared certified/r_squared

anova() { # SET COLUMN LEAST
    fits "$1" --effect "$2"
    digits "$3" "terms/name=$2/f" certified/F
}
anova AtmWtAg instrument 9.2
anova SiRstv instrument 12.1
anova SmLs01 treatment 14
anova SmLs04 treatment 9.1
anova SmLs07 treatment 3.0

for curve in Misra1a BoxBOD; do
    fits $curve --over x --curve saturating-exponential --floor 0
    digits 9 $(param top 0) $(param rate 1) $curve_residual
done
finish
