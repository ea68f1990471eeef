# fit on bare tables: options, refusals, what the answer says.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
ingots=$top/datasets/bond-ingots/data.csv
misra=$top/datasets/misra1a/data.csv

run 0 fit --data "$ingots" --response pressure --effect metal --block ingot
says "metal: makes a difference"
says "nickel 71.1, iron 75.9 and copper 70.19"
says "judged"
silent "type (I|II|III)|sum of squares.*[^-]type"
run 0 fit --data "$ingots" --response pressure --effect metal --block ingot --json
says '"ss_kind": "after-all-others"'
"$PLATEN_BUILD/beside" "$top/datasets/bond-ingots/known-answers.json" out >err 2>&1 ||
    fail "figures of bond-ingots differ from the published ones"
run 0 fit --data "$misra" --response y --over x --curve saturating-exponential --floor 0 --json
"$PLATEN_BUILD/beside" "$top/datasets/misra1a/known-answers.json" out >err 2>&1 ||
    fail "figures of Misra1a differ from the certified ones"

run 3 fit --data "$ingots" --response presure --effect metal
warns 'did you mean "pressure"?'
run 3 fit --data "$ingots" --response metal --effect ingot
warns "expected a number"
run 0 fit --data "$ingots" --response pressure
says "The mean of pressure is 72.4"
run 0 fit --data "$ingots" --response pressure --effect metal --block ingot \
    --contrast "metal: iron=1, copper=-0.5, nickel=-0.5" --json
says '"name": "iron 1, copper -0.5, nickel -0.5"'
says '"ss": 128.97'
run 0 fit --data "$ingots" --response pressure --effect metal --random ingot
says "ingot: from one to the next the level shifts by about 3.383"
says "that stands under Details"
run 0 fit --data "$ingots" --response pressure --effect metal --random ingot --json
says '"leads": "within-blocks"'
says '"recovered": {'
run 0 fit --data "$ingots" --response pressure --effect metal --block ingot --compare metal
says "iron lies above copper by 5.714 (between 1.12 and 10.4)"
says "1 pair compared shows no difference; up to 5.507 may hide there"
says "All these ranges hold together nineteen times in twenty"
run 0 fit --data "$ingots" --response pressure --effect metal --block ingot --compare metal --best more
says "metal: iron is the best"
run 0 fit --data "$ingots" --response pressure --effect metal --block ingot --compare metal \
    --compare-with iron --as-good-as "85 %" --json
says '"kind": "as-good-as"'
run 3 fit --data "$ingots" --response pressure --effect metal --compare metal --as-good-as "95 %"
warns "no level named"
run 2 fit --data "$ingots" --response pressure --effect metal --best more
run 2 fit --data "$ingots" --response pressure --effect metal --compare metal --best most
mixed=$top/tests/reference/mixed
run 0 fit --data "$mixed/mixed_nested.csv" --response strength --effect pressure --random session \
    --random session,board --json
says '"log_likelihood": -43.61493539783'
run 2 fit --data "$ingots" --response pressure --effect metal --contrast iron=1
warns "COL: LEVEL=WEIGHT"
run 3 fit --data "$ingots" --response pressure --effect metal --contrast metal:iron=1,copper=-0.5
warns "add up to 0.5"
run 2 fit --data "$ingots" --response pressure --contrast metal:iron=1,copper=-1 --through-zero
run 2 fit --data "$ingots" --effect metal
warns "--response"
run 2 fit study --data "$ingots" --response pressure --effect metal
run 2 fit --data "$ingots" --response pressure --over ingot --effect metal
run 2 fit --data "$misra" --response y --over x --floor zero
run 2 fit --data "$misra" --response y --over x --share 2
run 3 fit --data "$misra" --response y --over x --curve saturating-exponental
warns "saturating-exponential"
run 3 fit --data missing.csv --response y --over x

printf 'x,y\n1,2\n2,3,4\n' >ragged.csv
run 3 fit --data ragged.csv --response y --over x
warns "ragged.csv:3"
printf 'x;y\n1;2,5\n2;3,5\n3;4,1\n4;4,0\n5;4,2\n' >comma.csv
run 0 fit --data comma.csv --response y --over x --curve line --json
says '"slope"'
# the power of the response: MASS::boxcox(breaks ~ wool + tension, data = warpbreaks) has its top at
# -0.108 and 95 % from -0.653 to 0.427
run 0 fit --data "$top/tests/reference/r/warpbreaks.csv" --response breaks --effect wool --effect tension --power
says "scatter more evenly in the logarithm of breaks (powers from -0.65 to 0.43 do;"
run 0 fit --data "$top/tests/reference/r/PlantGrowth.csv" --response weight --effect group --power --json
valid
says '"box_cox"'
printf 'y,g\n0,a\n1,a\n2,b\n4,b\n' >zero.csv
run 0 fit --data zero.csv --response y --effect g --power
warns 'no power of "y" can be told'
run 2 fit --data zero.csv --response y --over g --power
warns "--over beside --power"
printf 'x,x\n1,2\n' >twice.csv
run 3 fit --data twice.csv --response x --over x
printf 'x,y\n' >empty.csv
run 1 fit --data empty.csv --response y --over x
printf 'x,y\n1,5\n1,6\n' >one.csv
run 1 fit --data one.csv --response y --over x
finish
