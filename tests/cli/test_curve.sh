# Curves of plugins: NIST's MGH17 through a curve written against the header alone (its digits:
# test_reference.sh), the study's own way to them, and what goes wrong.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
build=${PLATEN_BUILD:-$top/build}
nist=$top/tests/reference/nist
for one in mgh17 curve-nan curve-crash curve-falls curve-lies older; do
    cp "$build/faults/$one.so" .
    chmod 644 "$one.so"
done

mgh17() { run 0 fit --data "$nist/MGH17.csv" --response y --over x --curve mgh17 --plugin mgh17.so "$@"; }
mgh17
warns "does not say that it only rises: its onset is not worked out"
says "b5"
run 0 fit --data "$nist/MGH17.csv" --response y --over x --curve mgh17 --plugin mgh17.so --curve line
says "line"
run 1 fit --data "$nist/MGH17.csv" --response y --over x --curve mgh17 --plugin mgh17.so --log-x
warns "it does not run in log x"

# one of ours, from the folder of plugins; beside built-in ones
{
    echo "pressure [N/mm2],strength [N/mm2]"
    for x in 0.2 0.4 0.6 0.8 1.0 1.3 1.6 2.0 2.5; do
        for off in -0.3 0 0.25; do
            awk "BEGIN { print $x \",\" 2 + 5.5 * exp(-exp(-3 * ($x - 0.7))) + $off }"
        done
    done
} >rise.csv
rise() { status=$1; shift; run "$status" fit --data rise.csv --response strength --over pressure "$@"; }
rise 0 --curve richards-rise --curve saturating-exponential
says "richards-rise"
says "All joints: squeezing harder stopped helping at about 1.6 N/mm2"
cp out once
rise 0 --curve richards-rise --curve saturating-exponential
count=$((count + 1))
cmp -s out once || fail "the same fit twice is not the same"
rise 0 --curve richards-rise --log-x --json
valid
says '"scale": "log-x"'
rise 1 --curve richards-rise --floor 0
warns "its floor cannot be fixed"
rise 2 --curve richards-rise --curve mgh17 --plugin mgh17.so
warns "one plugin's curve in a fit"
rise 3 --curve richard-rise
warns 'no curve "richard-rise"'
rise 3 --curve load-cell
warns "a kind of rig"

# a curve is no rig
run 0 rig list
says "curve richards-rise"
run 0 rig show richards-rise
says "a curve for fits"
echo '{"name": "odd", "kind": "richards-rise"}' >odd.json
refused 3 'found plugin "richards-rise", a curve' rig add odd.json

# wild ones
for one in curve-nan curve-crash curve-falls curve-lies; do
    rise 4 --curve $one --plugin $one.so
    warns "$one.so"
    count=$((count + 1))
    [ "$(grep -c 'plugin "' err)" -eq 1 ] || fail "$one: not one finding"
    rise 4 --curve $one --plugin $one.so --json
    valid
done

# a study names it in its model
open_shop
fill_day
run 0 take tread sessions.csv glue-ups.csv breaks.csv
edit tread.json '2s/$/ "model": { "curves": [{ "curve": "richards-rise" }, { "curve": "line" }] },/'
run 0 fit x.json
warns '"richards-rise" is left out: 4 levels are too few for its 5 parameters'
says "line"
finish
