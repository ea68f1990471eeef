# size: each aim from flags and from study files, and what cannot be asked.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# a study of three surfaces; QUESTION goes into its question
study() {
    cat >surfaces.json <<END
{
  "study": "surfaces",
  "question": { $1 },
  "factors": [{ "name": "surface", "levels": ["planed", "sanded", "sawn"] }],
  "joint": { "kind": "lap", "width": "40 mm", "overlap": "30 mm" },
  "breaking": { "expected_strength": "10 N/mm2" },
  "scatter": { "cv": "12 %", "glue_ups": 8 }
}
END
}

# as good as a named level; the same number from flags and from a study
study '"aim": "as-good-as", "compare_with": "planed", "as_good_as": "90 %"'
run 0 check surfaces.json
says "whether the other levels of surface are as good as planed: 90 % of its strength or more"
run 0 size surfaces.json
says "to hold at least 90 % of it"
says "To be on the safe side make"
run 0 size --as-good-as "90 %" --scatter "12 %"
says "That takes 24 glue-ups per level (48 glue-ups in all)."
run 0 size --as-good-as "1.2 N/mm2" --scatter "1.2 N/mm2" --truly="-0.1 N/mm2"
says "truly lies 0.1 N/mm2 below the named one"
run 0 size --as-good-as "90 %" --scatter "12 %" --truly "102 %"
says "truly holds 102 %"
run 0 size --as-good-as "1.2 N/mm2" --scatter "1.2 N/mm2" --both-sides --json
valid
says '"aim": "as-good-as"'
study '"aim": "as-good-as", "compare_with": "plained"'
refused 3 "a level as it is listed under \`factors\`" check surfaces.json
warns 'did you mean "planed"?'
study '"aim": "as-good-as"'
refused 3 'no "compare_with"' check surfaces.json
study '"aim": "as-good-as", "compare_with": "sawn", "as_good_as": "30 %"'
refused 3 "50 % or more, below 100 %" check surfaces.json

study '"aim": "as-good-as", "compare_with": "sawn", "as_good_as": "11 N/mm2"'
refused 1 "as large as the strength expected" size surfaces.json

# a low percentile
study '"aim": "low-tail", "worth_noticing": "15 %"'
run 0 check surfaces.json
says "You ask which strength all but 5 % of the joints pass, to be right 95 % of the time"
run 0 size surfaces.json
says "the weakest of 59 joints is such a strength"
run 0 size --percentile "5 %" --confidence "75 %" --scatter "12 %"
says "That takes 28 glue-ups per level"
says "by the formula of EN 14358"
study '"aim": "low-tail", "percentile": "60 %", "confidence": "20 %"'
refused 3 "a low one, 50 % at most" check surfaces.json
warns "75 % and 95 % are common"

# widths
study '"aim": "difference", "width_at_most": "2 N/mm2"'
run 0 size surfaces.json
says "are to lie at most 2 N/mm2 apart 9 times in 10"

# several factors, each effect a line of its own
run 0 size --levels 3 --levels 2 --scatter "8 %" --worth-noticing "15 %"
says "- factor 1 (a straight line along it, end to end):"
says "- factor 1 with 2 (a difference here that is none there):"
run 0 size --levels 3 --levels 2 --hard-to-change --scatter "8 %" --worth-noticing "15 %"
says "nobody has said how much these differ"
run 0 size --levels 3 --levels 2 --hard-to-change --scatter "8 %" --scatter-between "5 %" --worth-noticing "15 %" --json
valid
says '"judged_between": "blocks"'
run 0 size --levels 7 --per-block 3 --scatter "8 %" --worth-noticing "15 %"
says "within blocks (a board, a session) of 3 glue-ups"
for design in stair-lap six-suspects five-glues glues-and-pads nine-suspects seven-spreads; do
    n=4
    [ $design = five-glues ] && n=5 # whole squares
    run 0 size "$top/designs/$design.json" --glue-ups-per-level "$n"
    says "of each treatment: "
done

# costs and pilots
sed 's|"scatter": .*|"scatter": { "between_glue_ups": "5 %", "within": "10 %", "glue_ups": 6, "specimens": 18 },\
  "budget": { "money": "240 EUR", "prices": { "glue_up": "4 EUR", "specimen": "0.50 EUR" } }|' surfaces.json |
    sed 's|"question": .*|"question": { "aim": "difference", "worth_noticing": "15 %" },|' >parts.json
run 0 size parts.json
says "glue-ups per level, with three"
says "The budget has room for 17 of each."
says "specimens a glue-up"
says "success 9 times in 10 would take a scatter found on"
edit parts.json 's/"0.50 EUR"/"0.50 USD"/'
refused 3 "EUR, as elsewhere in the file" check x.json
edit parts.json 's/"0.50 EUR"/"half"/'
refused 3 "a number and a currency" check x.json
edit parts.json 's/"specimens": 18/"specimens": 4/'
refused 3 "no fewer specimens than" check x.json
edit parts.json 's/"glue_ups": 6/"glue_ups": 1/'
refused 1 "a pilot of one glue-up" size x.json
edit parts.json 's/"scatter": .*/"scatter": "unknown",/'
run 0 size x.json
says "A pilot pays: "

# out of reach: what is known is said, and why
run 1 size --levels 4 --scatter "20 %" --worth-noticing "1 %"
says "Not even 200 glue-ups per level would do"
warns "no number up to 200 is enough"

# what cannot be asked
refused 2 "two factors or more" size --levels 3 --hard-to-change --scatter "5 %" --worth-noticing "5 %"
refused 2 "6 factors at most" size --levels 2 --levels 2 --levels 2 --levels 2 --levels 2 --levels 2 --levels 2 --scatter "5 %" --worth-noticing "5 %"
refused 2 "found \"-12 %\", expected a share above 0 %" size --levels 3 --scatter="-12 %" --worth-noticing "10 %"
refused 2 "a share above 0 %" size --levels 3 --scatter "0 %" --worth-noticing "10 %"
refused 2 "a scatter above 0" size --levels 3 --scatter "0 N/mm2" --worth-noticing "1 N/mm2"
refused 2 "a chance" size --levels 3 --scatter "12 %" --worth-noticing "10 %" --miss-at-most 1.5
refused 2 "a chance" size --levels 3 --scatter "12 %" --worth-noticing "10 %" --false-alarm 0
refused 1 "no joint is needed" size --levels 3 --scatter "12 %" --worth-noticing "10 %" --miss-at-most 0.97
refused 2 "--scatter-from" size --levels 3 --scatter "12 %" --scatter-from 1 --worth-noticing "10 %"
refused 2 "both as shares, or both in one unit" size --levels 3 --scatter "12 %" --worth-noticing "1 N/mm2"
refused 1 "a margin that is no number above 0" size --as-good-as "0 N/mm2" --scatter "1 N/mm2"
refused 1 "lies outside the margin" size --as-good-as "95 %" --truly "94 %" --scatter "5 %"
refused 2 "one aim at a time" size --as-good-as "95 %" --percentile "5 %" --scatter "5 %"
refused 2 "no --as-good-as" size --levels 2 --truly "95 %" --scatter "5 %" --worth-noticing "5 %"
refused 2 "no --percentile" size --levels 2 --confidence "95 %" --scatter "5 %" --worth-noticing "5 %"
refused 2 "2 or more to compare" size --levels 1 --scatter "5 %" --worth-noticing "5 %"
refused 2 "beside a study" size surfaces.json --percentile "5 %"

# the chance against numbers, drawn: in the terminal and in files
if command -v gnuplot >/dev/null; then
    run 0 size --levels 4 --scatter "12 %" --scatter-from 8 --worth-noticing "15 %" --plot
    says "glue-ups per level"
    says ". what the pilot leaves open"
    run 0 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --plot-to c.svg --plot-to c.png \
        --plot-to c.pdf --json
    valid
    says '"pictures": ["c.svg", "c.png", "c.pdf"]'
    for kind in "c.svg <?xml" "c.png PNG" "c.pdf %PDF"; do
        count=$((count + 1))
        head -c 8 "${kind% *}" | grep -qaF "${kind#* }" || fail "${kind% *} is no such picture"
    done
    keep c.svg
    run 5 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --plot-to c.svg
    warns "a file that is there already"
    same c.svg
    run 0 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --plot-to c.svg --replace
    run 0 size --levels 4 --scatter "12 %" --within "factor 1.5" --from "0.1 N/mm2" \
        --to "2.4 N/mm2" --onset "0.4 N/mm2" --draws 500 --plot
    says "chance of finding it"
fi
# without gnuplot: all else, and what is missing
PLATEN_GNUPLOT=/no/such/gnuplot run 0 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --plot \
    --plot-to d.svg
says "per level"
warns "gnuplot is not installed"
absent d.svg
run 2 size --levels 4 --scatter "12 %" --worth-noticing "15 %" --plot-to c.jpg
warns "ends in .svg, .png or .pdf"

# what no design and no measure can have
for file in five-glues eight-surfaces seven-spreads; do
    refused 1 "the design is whole only then" size "$top/designs/$file.json" --glue-ups-per-level 6
done
refused 2 "a scatter above 0" size --levels 4 --scatter="-1.2 N/mm2" --worth-noticing "1 N/mm2"
run 0 size --levels 4 --scatter 12 --worth-noticing 15
says "in the unit you typed"
run 0 size --as-good-as "20 N/mm2" --scatter "1 N/mm2"
warns "near the strength itself"
study '"aim": "difference", "worth_noticing": "11 N/mm2"'
refused 1 "as large as the strength expected" size surfaces.json

# designs of few runs: each effect from the plan
run 0 size "$top/designs/three-dials.json"
says "between two levels of any one factor"
says "its middle off the line between its ends"
run 0 size "$top/designs/four-dials.json" --json
valid
says '"kind": "meeting"'

# stopped by hand while what a pilot leaves open is weighed: the rest is said
"$platen" size --as-good-as "95 %" --both-sides --scatter "12 %" --scatter-from 8 >out 2>err &
pid=$!
sleep 1
kill -INT $pid
wait $pid
got=$?
[ "$got" -eq 1 ] || fail "stopped by hand: exit $got, wanted 1"
says "To be on the safe side make"
says "Stopped by hand before"
warns "stopped by hand"

finish
