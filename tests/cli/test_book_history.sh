# book history: scatter of past studies, pooled by hand from their own fits.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
refused 5 "no such book" book history
open_shop
run 0 book history
says "1 study is not counted: too few joints broken to tell a scatter"
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
keep platen.book
run 0 book history # nobody has asked for a fit yet
says "ash, adhesive not said, broken on puller"
cp out unasked.txt
same platen.book
run 0 fit tread --json
cp out one.json
run 0 book history
count=$((count + 1))
cmp -s out unasked.txt || fail "a kept fit changes the history"
says "ash, adhesive not said, broken on puller"
silent "from study to study"

# a second study of the same wood, with its own readings
sed 's/"study": "tread"/"study": "riser"/' tread.json >riser.json
run 0 plan riser.json --seed 5
run 0 sheet riser.json
mv tread-r1 kept-r1
cp -r riser-r1 tread-r1
real=$platen
cat >riser.sh <<END
#!/bin/sh
verb=\$1
shift 2
exec "$real" "\$verb" riser "\$@"
END
chmod 755 riser.sh
platen=$work/riser.sh
fill_day # of "tread", which is now the riser's
platen=$real
awk -F, -v OFS=, 'FNR > 1 { $7 = $7 + (FNR % 2) * 0.3 } { print }' breaks.csv >riser.csv
refused 3 "1 doubtful thing" take riser glue-ups.csv riser.csv sessions.csv # the day of both is one
run 0 take riser glue-ups.csv riser.csv sessions.csv --as-written
run 0 fit riser --json
cp out two.json
# and one of another wood, which is not pooled with them
sed 's/"study": "tread"/"study": "oaken"/; s/"ash"/"oak"/' tread.json >oaken.json
run 0 plan oaken.json --seed 6

figures() { awk -F'[:,]' '/^  "residual"/ { here = 1 } here && /"df"/ { df = $2 } here && /"sd"/ { sd = $2; here = 0 }
    /"coefficients"/ { first = 1 } first && /"estimate"/ { mean = $2; first = 0 }
    END { printf "%.17g %.17g\n", df, sd / mean }' $1; }
run 0 book history --json
valid
wanted=$({ figures one.json; figures two.json; } | awk '{ s += $1 * $2 ^ 2; df += $1; l[NR] = log($2) }
    END { m = (l[1] + l[2]) / 2; printf "%.12g %d %.12g", sqrt(s / df), df, exp(sqrt((l[1] - m) ^ 2 + (l[2] - m) ^ 2)) }')
got=$(awk -F'[:,]' '/"cv"/ { cv = $2 } /"between_studies"/ { b = $2 } /"df"/ && !df { df = $2 }
    END { printf "%.12g %d %.12g", cv, df, b }' out)
count=$((count + 1))
[ "$wanted" = "$got" ] || fail "pooled by hand: $wanted, got $got"
pooled=${wanted%% *} # run sets wanted
count=$((count + 1))
[ "$(figures one.json)" != "$(figures two.json)" ] || fail "both studies are the same"
says '"studies_without": 1'
run 0 book history
says "from study to study by a factor of"
says "  riser: "

# what was corrected since the last fit counts as corrected
cp out kept.txt
awk -F, -v OFS=, 'FNR == 4 { $7 = $7 + 0.4 } { print }' riser.csv >mended.csv
run 0 take riser mended.csv --replace
run 0 book history
count=$((count + 1))
! cmp -s out kept.txt || fail "a correction changes no scatter"
cp out corrected.txt
run 0 fit riser
run 0 book history
count=$((count + 1))
cmp -s out corrected.txt || fail "the fit of the corrected readings gives another scatter"
run 0 take riser --withdraw mended.csv --reason "read off the wrong scale"
run 0 book history
count=$((count + 1))
cmp -s out kept.txt || fail "the history does not go back with the readings"

# the shop's own record as the pilot of the next study, by name: figures pooled by hand above
next() { # STUDY-NAMES: a new study that names them
    sed "s/\"study\": \"tread\"/\"study\": \"newel\"/; s/\"scatter\": \"unknown\"/\"scatter\": { \"history\": [$1] }/; /glue_ups_per_level/d" tread.json >newel.json
}
next '"tread", "riser"'
run 0 size newel.json --json
valid
got=$(awk -F'[:,]' '/^  "sd"/ { printf "%.12g", $2 }' out)
count=$((count + 1))
[ "$pooled" = "$got" ] || fail "size takes a scatter of $got, the book has $pooled"
run 0 size newel.json
warns "a scatter of"
warns "as sure as 13 equal glue-ups make it, from tread and riser"
warns "from one of them to the next it differs by a factor of"
cp out from-history.txt
# the same as when the figures are written down by hand
sed "s/\"history\": .*\]/\"cv\": $pooled, \"glue_ups\": 13/" newel.json >by-hand.json
run 0 size by-hand.json
count=$((count + 1))
cmp -s out from-history.txt || fail "size says otherwise than with the figures by hand"
run 0 check newel.json
says "differ as they did in tread and riser"
run 0 plan newel.json --look --seed 3
warns "as sure as 13 equal glue-ups make it"
run 0 plan newel.json --seed 3
run 0 book check
next '"tread"'
run 0 size newel.json
warns "as sure as 7 equal glue-ups make it, from tread"
next '"treed"'
refused 2 'did you mean "tread"?' size newel.json
next '"oaken"'
refused 1 "found no scatter in oaken" size newel.json
refused 5 "no such book" size newel.json --book none.book
next '"tread"], "cv": ["12 %"'
refused 3 "expected a share" check newel.json
sed 's/"history"/"cv": "12 %", "history"/' newel.json | sed 's/, "cv": \["12 %"\]//' >both.json
refused 3 '`history` beside other figures' check both.json
next '"tread"'
sed 's/"ash"/"oak"/; s/"puller", "expected/"lever", "expected/; s/"rigs": \["stones", "jack", "puller"\]/"rigs": ["stones", "jack", "lever"]/' newel.json >other.json
sed 's/"puller"/"lever"/' puller.json >lever.json
run 0 rig add lever.json
run 0 size other.json
warns "the scatter of tread, which was of ash, expected a past study of oak"
warns "the scatter of tread, broken on puller, expected a past study broken on lever"

# a study of two woods tells each wood's own: as its groups have them
cp "$top/designs/stair-lap.json" .
cp -r "$top/designs/rigs" .
for rig in rigs/*.json; do run 0 rig add "$rig" --book stairs.book; done
run 0 plan stair-lap.json --seed 7 --book stairs.book
run 0 sheet stair-lap.json --book stairs.book
"${PLATEN_BUILD:-$top/build}/invent" stairs.book stair-lap filled 7 >/dev/null
run 0 take stair-lap filled/sessions.csv filled/glue-ups.csv filled/breaks.csv --as-written --book stairs.book
run 0 fit stair-lap --json --book stairs.book
groups=$(awk -F'[:,]' '/"plateaus"/ { here = 1 } here && /"error_df"/ { df = $2 } /"error_sd"/ { printf "%d %.10g ", df, $2 * 1e6 }' out)
run 0 book history --json --book stairs.book
got=$(awk -F'[:,]' '/"sd"/ { sd = $2 } /"df"/ { df = $2 } /^ *"mean"/ { here = 1 }
    here && /"df"/ { printf "%d %.10g ", df, sd; here = 0 }' out)
count=$((count + 1))
[ -n "$groups" ] && [ "$(echo "$groups" | tr " " "\n" | sort)" = "$(echo "$got" | tr " " "\n" | sort)" ] ||
    fail "each wood's scatter: $got, the fit has $groups"
run 0 book history --book stairs.book
says "beech, "
says "larch, "
# a glue-up made in another session than planned counts there
[ "$(sed -n 2p filled/glue-ups.csv | cut -d, -f2)" = 1 ] || fail "the first glue-up is of session 1"
awk -F, -v OFS=, 'FNR == 2 { $2 = 2 } FNR <= 2 { print }' filled/glue-ups.csv >moved.csv
refused 3 "1 glue-up made in another session or on another rig than planned, the first G1" take stair-lap moved.csv --replace --book stairs.book
run 0 take stair-lap moved.csv --replace --as-written --book stairs.book
run 0 fit stair-lap --book stairs.book
says "G1: planned for session 1, made in session 2; counted there"
finish
