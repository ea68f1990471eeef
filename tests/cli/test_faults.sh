# Plugins that do wrong (tests/faults), through the verbs: exit 4 with one finding that names
# plugin and file, the book byte for byte as it was, no child left over. And --plugin FILE.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
build=${PLATEN_BUILD:-$top/build}
open_shop
fill_day
id=$(sed -n 2s/,.*//p breaks.csv)
printf 'time [s],force [N]\n0,0\n1,10\n2,20\n3,1\n' >"$id.csv"

# a sound plugin given by its file needs no folder
cp "$build/faults/older.so" pull-bench.so
chmod 644 pull-bench.so
refused 4 'it calls itself "older", its file is "pull-bench.so"' rig show pull-bench --plugin pull-bench.so
cp "$build/faults/older.so" .
run 0 rig show older --plugin older.so
says "ends before state_size"
refused 3 'found kind of rig "older"' rig show older
refused 2 "NAME.so" rig show older --plugin older
refused 3 "No such file" rig show older --plugin none/older.so
chmod 666 older.so
refused 4 "may be written by everyone" rig show older --plugin older.so

# the readings of a rig whose plugin does wrong: its rig file is sound, its plugin is not
# (what hangs waits for the whole limit of ten seconds: in the long form only)
long=
[ -z "${PLATEN_LONG:-}" ] || long="endless sleeps stops"
for fault in crash aborts forks threads execs removes cuts kills sockets bomb flood scribbles \
    closes bad-peak bad-time bad-id twice too-many stranger aims handles queues unties hides pokes \
    raises old-calls wide-calls deaf takes-over opens turns deep pretends accuses $long; do
    cp "$build/faults/$fault.so" .
    chmod 644 "$fault.so"
    printf '{"name": "puller", "kind": "%s"}' "$fault" >rig.json
    run 0 rig add rig.json --replace --plugin "$fault.so"
    refused 4 "$fault.so" take tread --plugin "$fault.so" --rig puller "$id.csv"
    count=$((count + 1))
    [ "$(grep -c "plugin \"$fault\"" err)" -eq 1 ] || fail "$fault: not one finding"
done
# what does wrong as soon as it is loaded
for fault in leaves writes other-abi nothing; do
    cp "$build/faults/$fault.so" .
    chmod 644 "$fault.so"
    printf '{"name": "puller", "kind": "%s"}' "$fault" >rig.json
    refused 4 "$fault.so" rig add rig.json --replace --plugin "$fault.so"
done
absent fault-was-here
# asked to press
printf '{"name": "jack", "kind": "crash"}' >rig.json
run 0 rig add rig.json --replace --plugin crash.so
refused 4 "crash.so" rig dial jack --plugin crash.so --pressure "1 bar" --area "30 mm x 20 mm"
finish
