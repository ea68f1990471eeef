# book history: scatter of past studies, pooled by hand from their own fits.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
refused 5 "no such book" book history
open_shop
run 0 book history
says "1 study is not counted: no kept fit that tells a scatter"
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
run 0 fit tread --json
cp out one.json
run 0 book history
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
count=$((count + 1))
[ "$(figures one.json)" != "$(figures two.json)" ] || fail "both studies are the same"
says '"studies_without": 1'
run 0 book history
says "from study to study by a factor of"
says "  riser: "
finish
