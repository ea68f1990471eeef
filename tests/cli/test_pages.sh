# What the pages show is typed, in their order, and what they say comes out is compared. The
# tutorial is typed by test_docs.sh, the rig guide by test_write_a_rig.sh, the examples of each verb
# by test_help.sh.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

# The lines of a page that are typed: indented by four, beginning like a command.
typed() {
    sed -n 's/^    \(\(platen\|cd\|cp\|for\|PATH=\) *.*\)/\1/p' "$1"
}

# Runs one line in this shell, which may change its folder; said keeps all that comes out.
type_line() {
    count=$((count + 1))
    eval "$1" >"$work/page.out" 2>"$work/page.err" || bad_line=1
    cp "$work/page.out" out
    cp "$work/page.err" err
    [ -z "${bad_line:-}" ] || fail "$2 shows: $1"
    bad_line=
    cat out >>"$work/said"
}

# A block of quoted words ("> ") stands in what was said, however it is wrapped.
quoted() {
    sed -n 's/^> //p' "$1" | tr '\n' ' ' | sed 's/ $//' >"$work/quote"
    tr '\n' ' ' <"$work/said" | tr -s ' ' >"$work/all"
    count=$((count + 1))
    [ -s "$work/quote" ] && grep -qF -f "$work/quote" "$work/all" || fail "$1 quotes what is not said"
}

# ---- README: from a copy of the project with its build ----
mkdir project
cp -r "$top/designs" "$top/datasets" project/
cd project || exit 1
mkdir build
ln -s "$platen" build/platen
ln -s "$(dirname "$platen")/plugins" build/plugins
: >"$work/said"
typed "$top/README.md" >"$work/lines"
while IFS= read -r line; do
    case $line in
    "platen plan "*) line="${line%%#*} --seed 20260302" ;; # the plan of the demo
    "platen take "*sessions.csv*) # the forms, filled in with invented readings
        "${PLATEN_BUILD:-$top/build}/invent" platen.book stair-lap filled 7 >out 2>err || fail "invent"
        cp filled/*.csv .
        line="$line --as-written" # the demo's doubtful figures, looked at
        ;;
    esac
    type_line "$line" README.md
done <"$work/lines"
quoted "$top/README.md"
sed -n 's/^      \(0\.[0-9] N.mm2 .*\)/\1/p' "$top/README.md" >"$work/rigs"
count=$((count + 1))
[ -s "$work/rigs" ] || fail "README.md shows no set points"
while IFS= read -r line; do
    count=$((count + 1))
    grep -qF -e "$line" "$work/said" || fail "README.md shows: $line"
done <"$work/rigs"


# ---- the other pages: in the shop of the examples ----
cd "$work/project/my-shop" || exit 1
first=$(ls pull-*.csv | sed -n '1s/pull-\(.*\)\.csv/\1/p')
mkdir -p recordings
cp "$top"/tests/reference/study/stair-lap.csv readings.csv
sed -i '1s/strength,pressure/strength [N\/mm2],pressure [N\/mm2]/' readings.csv
printf 'dial [bar],force [kN]\n1,0.31\n2,0.63\n3,0.92\n4,1.26\n5,1.55\n' >points.csv
for page in verbs rigs reading-files; do
    typed "$top/docs/$page.md" >"$work/lines"
    count=$((count + 1))
    [ -s "$work/lines" ] || fail "docs/$page.md shows no command"
    while IFS= read -r line; do
        line=$(printf '%s' "$line" | sed "s/K7M3/$first/g; s/\bSTUDY\b/stair-lap/; s/\bNAME FILE\b/pull-bench pull-$first.csv/
            s|air-press\.json|rigs/&|")
        case $line in
        *bench-vice*) continue ;; # the rig guide's, typed there
        "platen sheet "*) line="$line --replace" ;;
        esac
        type_line "$line" "docs/$page.md"
    done <"$work/lines"
done
finish
