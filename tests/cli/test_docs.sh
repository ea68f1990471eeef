# The pages in docs/ and the program say the same: verbs.md is what --help
# prints, json.md names every member of every answer.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

run 0 help
verbs=$(awk '/^  [a-z]/ && $1 != "platen" { print $1 }' out)
[ -z "${PLATEN_REWRITE:-}" ] || for verb in $verbs; do
    "$platen" help "$verb" | awk -v head="## $verb" 'NR == FNR { box = box $0 "\n"; next }
        /^## / { here = $0 == head } here && /^```/ { inside = !inside
            if (inside) printf "%s\n%s", $0, box; else print; next }
        !(here && inside)' - "$top/docs/verbs.md" >page && cat page >"$top/docs/verbs.md"
done
for verb in $verbs; do
    run 0 help "$verb"
    awk -v head="## $verb" '$0 == head { here = 1; next } /^## / { here = 0 }
        here && /^```/ { inside = !inside; next } here && inside' "$top/docs/verbs.md" >page
    count=$((count + 1))
    cmp -s out page || fail "docs/verbs.md differs from platen help $verb (PLATEN_REWRITE=1 mends it)"
    run 0 "$verb" --help
    cmp -s out page || fail "platen $verb --help differs from docs/verbs.md"
done

# members FILE: every key of an answer stands in json.md in backquotes. Names of
# factors and groups are the user's: they stand inside treatment and group.
members() {
    valid
    awk -F'"' '/"(treatment|group)": \{/ && !/\}/ { depth = 1; print $2; next }
        depth { depth += gsub(/\{/, "{") - gsub(/\}/, "}"); next }
        /^ *"[^"]*":/ || /\{"/ { print $2 }' out | sort -u >keys
    while read -r key; do
        count=$((count + 1))
        grep -qF "\`$key\`" "$top/docs/json.md" || fail "docs/json.md lacks $key"
    done <keys
}
open_shop
yes '' | head -15 | "$platen" ask asked --json >out 2>err
members
run 0 check tread.json --json
members
run 0 plan tread --json
members
run 0 plan tread.json --look --json
members
run 0 size tread.json --json
members
run 0 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --glue-ups-per-level 5 --json
members
run 0 size "$top/designs/stair-lap.json" --json
members
run 0 size --as-good-as "90 %" --scatter "12 %" --json
members
run 0 size --percentile "5 %" --scatter "12 %" --worth-noticing "15 %" --json
members
run 0 sheet tread --replace --json
members
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv --json
members
run 0 fit tread --json
members
run 0 fit --data "$top/datasets/bond-ingots/data.csv" --response pressure --effect metal --block ingot --json
members
run 0 fit --data "$top/datasets/misra1a/data.csv" --response y --over x --json
members
run 0 report tread --json
members
run 0 due --json
members
run 0 rig list --json
members
run 0 rig show jack --json
members
run 0 rig show dead-weight --json
members
run 0 rig try dead-weight --json
members
run 0 rig add jack.json --json
members
run 0 rig dial jack --pressure "1.2 N/mm2" --area "600 mm2" --json
members
run 0 rig dial jack --reading "3 bar" --json
members
run 0 book list --json
members
run 0 help words --json
members
run 3 check no-such.json --json
members

# the pages name each other by paths that are there
for page in "$top"/docs/*.md "$top"/docs/methods/*.md; do
    sed -n 's/.*](\([a-z0-9/.-]*\)[)#].*/\1/p' "$page" | while read -r link; do
        [ -e "$(dirname "$page")/$link" ] || echo "$page: $link"
    done
done >missing
count=$((count + 1))
[ ! -s missing ] || fail "links to nothing: $(cat missing)"

# the tutorial, typed as it stands
mkdir tutorial
cd tutorial || exit 1
awk '/^```sh/ { inside = 1; next } /^```/ { inside = 0 } inside' "$top/docs/tutorial.md" >commands
PATH=$(dirname "$platen"):$PATH
count=$((count + 1))
sh -e commands >../out 2>../err || {
    cd ..
    fail "the tutorial does not run"
    cd tutorial || exit 1
}
cd ..
says "Frozen in platen.book as revision 1."
says "squeezing harder"
says "toy-lap-r1/report.html"
says "Frozen in platen.book as revision 2: what was there stays as it is."
says "1.2 N/mm2         2  new"
says "2.4 N/mm2         2  again"
says "toy-lap-r2/report.html"
says "B3CB is excluded and left out: knot under the glue line"
says "platen.book is whole"
quiet "refused|expected"
finish
