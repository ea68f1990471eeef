# Published tables of bonds and glued wood (tests/reference/trade, sources in each JSON): what is said of
# each agrees with what the data show. docs/published-tables.md says where the authors say otherwise.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
trade=$top/tests/reference/trade

ingots="--data $trade/bond_ingots_rcbd.csv --response pressure --effect metal"
run 0 fit $ingots --block ingot --compare metal
says "metal: iron lies above nickel by 4.8 (between 0.207 and 9.4)."
says "metal: iron lies above copper by 5.714 (between 1.12 and 10.4)."
says "1 pair compared shows no difference; up to 5.507 may hide there."
run 0 fit $ingots --random ingot
says "ingot: from one to the next the level shifts by about 3.383."
says "Joints made alike within them differ by about 3.22."

run 0 fit --data "$trade/glue_thickness_ancova.csv" --response strength --effect glue --covariate thickness --compare glue
says "thickness: goes along. By chance alone a slope this steep would turn up less than 1 time in 10000."
says "glue: no difference shows"
says "6 pairs compared show no difference; up to 3.017 may hide there."
says "-1.0099"
quiet "goes with"

beech() { run "$1" fit --data "$trade/beech_closed_assembly_time.csv" --response "$2" $3; }
beech 0 delam_specimen_mean_pct "--effect lamella_mm"
says "lamella_mm: makes a difference: 1.3 at 29, 4.617 at 35 and 24.78 at 38."
beech 0 delam_specimen_mean_pct "--effect beam_type"
says "beam_type: makes a difference: laboratory 5.66 and industrial 36.4."
beech 0 delam_specimen_mean_pct "--over closed_assembly_min --curve line"
says "no effect of closed_assembly_min shows"
beech 0 delam_specimen_mean_pct "--effect time_class --block series"
says "time_class: no difference shows"
beech 0 delam_specimen_mean_pct "--covariate closed_assembly_min --block series"
says "closed_assembly_min: no sign that it goes along."
beech 1 delam_specimen_mean_pct "--effect lamella_mm --block series"
warns 'found "lamella_mm" cannot be told apart from the terms before it'
for effect in lamella_mm beam_type time_class; do
    beech 0 block_shear_N_mm2 "--effect $effect"
    says "$effect: no difference shows"
done

run 0 fit --data "$trade/glulam_adhesive_means.csv" --response shear_N_mm2 --effect bonding
warns "nothing is left to judge the scatter by"
silent "makes a difference|no difference shows|lies above"
run 0 fit --data "$trade/glulam_adhesive_means.csv" --response shear_N_mm2 --effect bonding --json
valid
says '"p": null'

# two levels, as a study of fourteen species had (6 and 12 kgf/cm2); values invented
printf 'pressure,strength\n6,5\n6,6\n6,5.5\n12,7\n12,7.4\n12,8\n' >two.csv
run 0 fit --data two.csv --response strength --over pressure
says "the top is open"
says "No setting is advised."

# every table that is here is spoken of
for csv in "$trade"/*.csv; do
    name=$(basename "$csv" .csv)
    count=$((count + 1))
    grep -qF "$name" "$top/tests/cli/test_published.sh" "$top/tests/fit/test_reference_sets.c" || fail "nothing speaks of $name"
done
finish
