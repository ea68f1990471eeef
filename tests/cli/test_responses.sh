# Responses beside strength: their columns in the forms, their sections, and the warning where one
# that is taken along is itself set by the pressure. Readings invented.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
write_shop
for rig in stones jack puller; do run 0 rig add $rig.json; done
cp tread.json plain.json
sed -i '2s/$/ "responses": [{ "name": "strength", "kind": "strength" },\
    { "name": "squeeze-out", "kind": "mass", "unit": "g", "better": "less" },\
    { "name": "line thickness", "kind": "length" },\
    { "name": "voids", "kind": "count", "better": "less" },\
    { "name": "wood failure", "kind": "percent", "better": "more" }],\
  "model": { "covariates": ["line thickness"] },/' tread.json
run 0 check tread.json
says 'squeeze-out (g, once a glue-up, in the column squeeze_out)'
run 0 plan tread.json --seed 11
run 0 sheet tread.json
count=$((count + 1))
head -1 tread-r1/glue-ups.csv | grep -qF 'squeeze_out [g]' || fail "no weight of squeeze-out"
head -1 tread-r1/breaks.csv | grep -qF 'trace,photo,line_thickness [mm],voids,note' || fail "no thickness and voids"

# whose thickness falls with pressure and whose squeeze-out grows; voids do as they like
fill_day
awk -v OFS=, 'NR == FNR { at[$1] = $3; next }
    FNR == 1 { FS = ","; print; next }
    { $0 = $0; $13 = 0.25 - 0.08 * at[$1] + (FNR % 4) / 200; $14 = FNR * FNR % 5; print }' \
    planned.txt breaks.csv >filled.csv
awk -v OFS=, 'NR == FNR { at[$2] = $3; next }
    FNR == 1 { FS = ","; print; next }
    { $0 = $0; $11 = 0.3 + 0.5 * at[$1] + (FNR % 4) / 50; print }' planned.txt glue-ups.csv >weighed.csv
run 0 take tread sessions.csv weighed.csv filled.csv
run 0 fit tread
silent 'it is [0-9.]*e-'
says "Squeeze-out"
says "it grows with pressure, for the worse: at"
says "Line thickness"
says "it falls with pressure: at 0.3 N/mm2"
says "Voids"
says "no effect of pressure shows"
says "Wood failure"
says "It was 10 % on each of the 12 joints where it was measured."
warns 'covariate "line thickness" goes with pressure'
warns "if pressure sets line thickness, what it does by way of that is taken out of its effect"
run 0 fit tread --json
valid
for key in '"response": "squeeze-out"' '"unit": "g"' '"better": "less"' '"measured": 12'; do says "$key"; done

# The mean of each level is its own: by hand 0.3 + 0.5 * 0.6 and a part of 0 to 0.06 g
count=$((count + 1))
awk '/"response": "squeeze-out"/ { on = 1 } on && /"level": "0.6 N\/mm2"/ { level = 1 }
    on && level && /"mean":/ || on && level && /"estimate":/ { gsub(/[^0-9.]/, ""); m = $0; exit }
    END { exit !(m > 0.6 && m < 0.66) }' out || fail "not the mean of what was weighed"
run 0 report tread --to tread.html
count=$((count + 1))
grep -q 'Line thickness' tread.html || fail "no section on the page"

# without it as a covariate nothing is warned of; a file's responses count for a plan that has none
run 0 plan plain.json --seed 11 --book other.book
sed 's/"model": { "covariates": \["line thickness"\] },//' tread.json >asked.json
run 0 fit asked.json
quiet "goes with pressure"

# the scatter found (0.139 on 6 df) beside a pilot's 0.05: F = 7.72; R: pf(7.72, 6, 5, lower.tail =
# FALSE) = 0.020, with 59 df 3.8e-06
edit asked.json 's/"scatter": "unknown"/"scatter": { "sd": "0.05 N\/mm2", "glue_ups": 6 }/'
cp x.json few.json
run 0 fit few.json
says "the study expected 0.05, found on 6 glue-ups. That agrees."
edit few.json 's/"glue_ups": 6/"glue_ups": 60/'
run 0 fit x.json
says "found on 60 glue-ups. That is more than chance explains"
run 0 fit x.json --json
says '"name": "scatter"'

# what is not written down yet, and what cannot be
edit asked.json 's/"voids", "kind": "count"/"drips", "kind": "count"/'
run 0 fit x.json
says "Nothing was written down of it yet."
for pair in '"voids", "kind": "count"|"mode", "kind": "count"|a column that no form has for something else' \
    '"kind": "mass", "unit": "g"|"kind": "mass", "unit": "mm"|a unit of mass' \
    '"kind": "percent", "better"|"kind": "mass", "better"|which the column wood_failure holds' \
    '"line thickness", "kind"|"squeeze-out", "kind"|no other response and no factor has' \
    '"line thickness", "kind"|"pressure", "kind"|no other response and no factor has' \
    '"line thickness", "kind"|"line=thickness", "kind"|letters, digits, blanks and hyphens' \
    '"kind": "strength" }|"kind": "strength", "better": "more" }|only of what is no strength' \
    '"kind": "length" }|"kind": "strength" }|a second strength' \
    '"kind": "length" }|"kind": "length", "show_in": ["psi"] }|`unit` for what is no strength' \
    '"covariates": \["line|"covariates": ["lime|did you mean "line thickness"?' ; do
    from=${pair%%|*} rest=${pair#*|}
    edit tread.json "s/$from/${rest%%|*}/"
    run 3 check x.json
    warns "${rest##*|}"
done
sed 's/voids/voids [mm]/' filled.csv >x.csv
run 3 take tread x.csv --look
warns "it is a count"

# a bare table: published thickness of glue lines that the glue does not set (Montgomery, problem
# 15.15), and invented ones that pressure does
run 0 fit --data "$top/tests/reference/trade/glue_thickness_ancova.csv" --response strength --effect glue --covariate thickness
quiet "goes with"
printf 'p,thickness,strength\n' >set.csv
for i in 1 2 3 4 5; do
    for p in 1 2 3; do echo "$p,$p.$i,$(((i * 7 + p * 3) % 5 + 2 * p))"; done
done >>set.csv
run 0 fit --data set.csv --response strength --effect p --covariate thickness
warns 'covariate "thickness" goes with p'
finish
