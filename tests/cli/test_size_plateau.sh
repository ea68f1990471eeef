# size for a plateau: simulated from flags and from a study, in parts, by threads, and stopped.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# flags STATUS ARGUMENTS: the question asked by flags everywhere here
flags() {
    wanted_of_flags=$1
    shift
    run "$wanted_of_flags" size --within "factor 1.5" --levels 6 --from "0.2 N/mm2" \
        --to "2.4 N/mm2" --onset "0.9 N/mm2" --floor "60 %" --scatter "8 %" "$@"
}

flags 0 --glue-ups-per-level 4 --draws 1000 --scatter-from 8
says "within a factor of 1.5 of the true place, 9 times in 10"
says "With 4 per level it is found"
says "give or take"
flags 0 --glue-ups-per-level 4 --draws 1000 --json
valid
says '"aim": "plateau"'
says '"layout": "equal-steps"'
says '"draws": 1000'
flags 0 --sure-to "3 %" --miss-at-most "1 in 5"
says "With the levels asked for that takes"
says "With as many levels in equal steps that takes"

# the same answer for any number of threads
flags 0 --glue-ups-per-level 3 --draws 3000 --json
mv out two
OMP_NUM_THREADS=1 flags 0 --glue-ups-per-level 3 --draws 3000 --json
cmp -s out two || fail "one thread and more differ"
flags 0 --glue-ups-per-level 3 --draws 3000 --seed 2 --json
cmp -s out two && fail "another seed, the same draws"

# the layout chosen for the guess, and a rig that stops
flags 0 --glue-ups-per-level 3 --draws 1000 --breaks-at-most "105 %" --json
says '"layout": "placed-for-guess"'
says "The breaking rig stops at 105 % of the highest strength"
flags 0 --glue-ups-per-level 3 --draws 1000 --breaks-at-most "300 %"
silent "The breaking rig stops"
flags 2 --breaks-at-most "20 kN"

# parts put together are the whole
cat >knee.json <<'END'
{
  "study": "knee",
  "question": {
    "over": "pressure", "within": "factor 1.5",
    "guess": [{ "onset": "0.9 N/mm2", "floor": "60 %" },
              { "onset": "1.1 N/mm2", "floor": "70 %", "curve": "linear-plateau",
                "scale": "log-x", "weight": 2 }]
  },
  "glue_ups_per_level": 4,
  "factors": [{ "name": "pressure", "from": "0.2 N/mm2", "to": "2.4 N/mm2", "count": 6,
                "spacing": "constant ratio" }],
  "joint": { "kind": "lap", "width": "40 mm", "overlap": "30 mm" },
  "breaking": { "expected_strength": "10 N/mm2" },
  "scatter": { "sd": "0.8 N/mm2", "glue_ups": 8 }
}
END
run 0 check knee.json
run 0 size knee.json --draws 0:3000 --json
valid
mv out whole
PLATEN=$platen sh "$top/docs/spread-size.sh" knee.json 3000 4 parts >/dev/null 2>&1 ||
    fail "docs/spread-size.sh"
for key in power power_at_upper assurance draws found too_far top_open draws_from draws_to; do
    grep "\"$key\"" whole >one
    grep "\"$key\"" parts/size.json >two
    cmp -s one two || fail "parts give another $key"
done
PART=2 PLATEN=$platen sh "$top/docs/spread-size.sh" knee.json 3000 4 again
cmp -s parts/part-2.json again/part-2.json || fail "a part made again differs"
run 0 size knee.json --merge parts/part-0.json --merge parts/part-1.json
says "it is found"
refused 3 "draws of its own" size knee.json --merge parts/part-0.json --merge again/part-2.json \
    --merge parts/part-2.json
refused 3 "seed 7" size knee.json --merge parts/part-0.json --seed 7
sed 's/factor 1.5/factor 1.6/' knee.json >other.json
refused 3 "another question" size other.json --merge parts/part-0.json
refused 3 "no part of a simulation" size knee.json --merge knee.json
refused 2 "one of them" size knee.json --merge parts/part-0.json --draws 10

# what cannot be asked
refused 2 "nothing to simulate" size --levels 4 --scatter "12 %" --worth-noticing "15 %" --draws 10
refused 2 "a factor above 1" size --within "factor 1" --levels 6
flags 2 --draws 9:3
flags 2 --as-good-as "90 %"
sed 's/"onset": "0.9 N\/mm2"/"onset": "3 N\/mm2"/' knee.json >far.json
refused 3 "between the lowest and the highest level" check far.json
sed 's/"onset": "0.9 N\/mm2"/"onset": "3 mm"/' knee.json >mm.json
refused 3 "as the levels of" check mm.json
sed 's/"floor": "60 %"/"floor": "96 %"/' knee.json >flat.json
refused 3 "less than the share that counts" check flat.json
sed 's/factor 1.5/nearly/' knee.json >near.json
refused 3 "a factor above 1" check near.json
sed 's/, "glue_ups": 8//; s/"sd": "0.8 N\/mm2"/"sd": "80 N\/mm2"/' knee.json >wild.json
refused 1 "below the strength itself" size wild.json
sed 's/"glue_ups_per_level": 4/"glue_ups_per_level": 1/' knee.json >single.json
refused 1 "two glue-ups per level" size single.json
sed 's/"onset": "0.9 N\/mm2"/"onset": "2.35 N\/mm2"/' knee.json >late.json
refused 1 "an earlier onset" size late.json

# what is near enough is said where the study does not say it; a plan says whether it is enough
sed 's/"within": "factor 1.5",//' knee.json >nearly.json
run 0 size nearly.json --draws 1000
warns "within a factor of 1.5"
says "is to be found"
run 0 plan knee.json --look --seed 1
warns "4 glue-ups per level: if the guess is right, where strength stops rising is found within"
warns "platen size says how studies of that size fail"
mv err first
run 0 plan knee.json --look --seed 1
cmp -s err first || fail "a plan asked twice says two chances"
sed 's/"glue_ups_per_level": 4/"glue_ups_per_level": 60/; s/, "glue_ups": 8//; s/0.8 N/0.3 N/' knee.json >large.json
run 0 plan large.json --look --seed 1
warns "60 glue-ups per level are enough"
sed 's/"glue_ups_per_level": 4,//' knee.json >open.json
run 0 plan open.json --look --seed 1
warns "as many as the aim needs"
sed 's/  "breaking": .*//' knee.json >unjoined.json
run 0 plan unjoined.json --look --seed 1
warns "whether 4 glue-ups per level are enough cannot be worked out"

# stopped by hand: what is known is said with its error, and the exit says that it is not all
"$platen" size knee.json --draws 0:900000000 >out 2>err &
pid=$!
sleep 1
kill -INT $pid
wait $pid
got=$?
[ "$got" -eq 1 ] || fail "stopped by hand: exit $got, wanted 1"
says "give or take"
warns "stopped by hand"

finish
