# fit on a bare table some of whose strengths are only bounds (invented readings).
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
motors=$top/tests/reference/censored/motors.csv

# Figures of motors.json beside it (60 digits): weibull_temp; covariates about their mean.
awk -F, 'NR == 1 { print $0 ",bound"; next } { print $0 "," 1 - $3 }' "$motors" >motors.csv
run 0 fit --data motors.csv --response time --censored bound --covariate temp --law weibull --json
says '"log_likelihood": -147.3650611771'
says '"estimate": -0.0453070534788'
says '"se": 0.003185821060515'
says '"above": 23'
run 0 fit --data motors.csv --response time --censored bound --covariate temp --law weibull
says "Of 40 readings, 17 are known exactly and 23 only the least it held"
says "temp: makes a difference"

# a cell without one reading of its own has no upper limit; no answer holds nan or inf
cat >glue.csv <<'END'
species,strength [N/mm2],wood
beech,5.3,0
beech,6.1,0
beech,4.8,0
beech,7.7,1
larch,6.0,1
larch,6.4,1
larch,5.9,1
END
run 0 fit --data glue.csv --response strength --censored wood --effect species
says "N/mm2; no upper limit (not one of its 3 readings shows its own strength)"
silent "[^a-z](nan|inf)[^a-z]"
run 0 fit --data glue.csv --response strength --censored wood --effect species --json
says '"high_open": true'
silent "[^a-z](nan|inf)[^a-z]"

# between two marks, an empty cell is an open end
printf 'from,to\n2.4,2.6\n3.0,3.0\n2.8,\n1.0,4.0\n,2.2\n3.6,3.6\n' >marks.csv
run 0 fit --data marks.csv --lower from --upper to --json
says '"between": 2'
says '"below": 1'

# each fault its own words
printf 'y,c\n5,1\n6,1\n7,1\n' >t.csv
run 1 fit --data t.csv --response y --censored c
warns "every one only a bound"
printf 'y,c\n5,0\n5,0\n5,0\n' >t.csv
run 1 fit --data t.csv --response y --censored c
warns "all 3 strengths are equal"
printf 'y,c,f\n5,0,a\n6,0,b\n7,0,c\n' >t.csv
run 1 fit --data t.csv --response y --censored c --effect f
warns "the scatter runs to nothing"
printf 'y,c,f\n5,0,a\n6,0,a\n7,0,a\n' >t.csv
run 1 fit --data t.csv --response y --censored c --effect f
warns '"f" is the same in every row'
printf 'y,c,f,g\n5,0,a,x\n6,0,b,x\n7,0,a,y\n8,0,a,x\n' >t.csv
run 1 fit --data t.csv --response y --censored c --effect f --effect g --effect f,g
warns "no row with f=b, g=y"
printf 'y,c\n5,0\n-6,0\n7,0\n' >t.csv
run 3 fit --data t.csv --response y --censored c --law lognormal
warns "strengths above zero: the law is lognormal"
printf 'y,c\n5,0\n1e300,0\n7,0\n' >t.csv
run 3 fit --data t.csv --response y --censored c
warns "beyond 1e100"
printf 'from,to\n5,4\n6,6\n7,7\n' >t.csv
run 3 fit --data t.csv --lower from --upper to
warns "the lower bound not above the upper one"
run 2 fit --data t.csv --lower from
warns "both columns, --lower and --upper"
run 2 fit --data t.csv --response from --law gauss
warns "normal, lognormal or weibull"
run 2 fit --data t.csv --response from --censored to --over to
warns "effects, covariates and fixed blocks"
finish
