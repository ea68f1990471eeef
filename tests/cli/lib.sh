# What the command-line tests share. Each test works in a folder of its own and
# ends with `finish`. $PLATEN is the program, $PLATEN_TOP the project's folder.
set -u
top=${PLATEN_TOP:-$PWD}
platen=${PLATEN:-$top/build/platen}
work=$(mktemp -d)
chmod go-w "$work"
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
unset PLATEN_BOOK
bad=0
count=0

fail() {
    echo "FAILED: $*"
    echo "--- standard output"; cat out
    echo "--- standard error"; cat err
    bad=$((bad + 1))
}

# run STATUS ARGS...: the program ends with this exit status.
run() {
    wanted=$1
    shift
    "$platen" "$@" >out 2>err
    got=$?
    count=$((count + 1))
    [ "$got" -eq "$wanted" ] || fail "platen $*: exit $got, wanted $wanted"
}

# says TEXT: on standard output. warns TEXT: on standard error.
says() { count=$((count + 1)); grep -qF -e "$1" out || fail "does not say: $1"; }
warns() { count=$((count + 1)); grep -qF -e "$1" err || fail "does not warn: $1"; }
silent() { count=$((count + 1)); ! grep -qiE -e "$1" out || fail "says what it must not: $1"; }

# same FILE: unchanged since `keep FILE`.
keep() { cp "$1" "$1.kept"; }
same() { count=$((count + 1)); cmp -s "$1" "$1.kept" || fail "$1 was changed"; }

finish() {
    echo "$count checks, $bad bad"
    [ "$bad" -eq 0 ]
}
