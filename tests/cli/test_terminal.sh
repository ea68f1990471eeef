# On a terminal answers fit 80 columns and the answer itself is bright; in a pipe or a
# file lines stay whole and plain.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# on_terminal COLUMNS ENVIRONMENT COMMAND: what a terminal gets to see, without its CRs.
on_terminal() {
    env "$2" TERM=xterm script -qec "stty cols $1; exec $3" /dev/null </dev/null 2>err | tr -d '\r' >out
    count=$((count + 1))
    [ -s out ] || fail "nothing on the terminal: $3"
}
# No line over $1 columns; bytes of colour do not count.
fits() {
    sed 's/\x1b\[[0-9;]*m//g' out | awk -v most="$1" 'length($0) > most' >wide
    count=$((count + 1))
    [ ! -s wide ] || fail "wider than $1: $(cat wide)"
}

open_shop
fill_day
on_terminal 80 X= "$platen take tread sessions.csv glue-ups.csv breaks.csv"
fits 80
for asked in "check tread.json" "size tread.json" "plan tread" "fit tread" "fit tread --plot" "rig list" \
    "rig show piston-press" "book list" "book history" "help words" "help size"; do
    on_terminal 80 X= "$platen $asked"
    fits 80
done
on_terminal 200 X= "$platen fit tread"
fits 80
on_terminal 60 X= "$platen check tread.json"
fits 60

esc=$(printf '\033')
on_terminal 80 X= "$platen fit tread"
says "$esc[1m"
on_terminal 80 NO_COLOR=1 "$platen fit tread"
silent "$esc"
on_terminal 80 X= "env TERM=dumb $platen fit tread"
silent "$esc"
run 0 fit tread
silent "$esc"
count=$((count + 1))
awk 'length($0) > 100 { found = 1 } END { exit !found }' out || fail "folded though it goes to a file"
run 0 fit tread --json
silent "$esc"
finish
