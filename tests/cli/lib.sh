# What the command-line tests share. Each test works in a folder of its own and
# ends with `finish`. $PLATEN is the program, $PLATEN_TOP the project's folder.
set -u
top=${PLATEN_TOP:-$PWD}
platen=${PLATEN:-$top/build/platen}
work=$(mktemp -d)
chmod 755 "$work"
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
unset PLATEN_BOOK PLATEN_PLUGINS
bad=0
count=0
[ -x "$platen" ] || {
    echo "no program at $platen"
    exit 1
}

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
quiet() { count=$((count + 1)); ! grep -qiE -e "$1" err || fail "warns what it must not: $1"; }

# same FILE: unchanged since `keep FILE`. absent FILE: not there.
keep() { cp "$1" "$1.kept"; }
same() { count=$((count + 1)); cmp -s "$1" "$1.kept" || fail "$1 was changed"; }
absent() { count=$((count + 1)); [ ! -e "$1" ] || fail "$1 is there"; }

# valid: standard output is one JSON object with the members of every answer.
# The program's own reader judges: it refuses text after the end, doubled keys,
# numbers and bytes that are none, and then the answer is refused as a study for
# its keys alone.
valid() {
    count=$((count + 1))
    cp out answer.json
    for key in format verb study revision findings; do
        grep -qE "^  \"$key\":" answer.json || fail "no member $key"
    done
    sed 's/^  "study": null/  "study": "x"/' answer.json >judged.json
    "$platen" check judged.json >/dev/null 2>judged
    grep -qF 'unknown key "findings"' judged || fail "not one JSON object: $(cat judged)"
}

# refused STATUS TEXT ARGS...: refused with this text, in words and as JSON, and
# the book stays as it is byte for byte.
refused() {
    status=$1 text=$2
    shift 2
    if [ -e platen.book ]; then keep platen.book; else rm -f platen.book.kept; fi
    run "$status" "$@"
    warns "$text"
    cp err words.err
    run "$status" "$@" --json
    valid
    says '"severity": "refused"'
    mv words.err err # so that a test may look for more of it
    if [ -e platen.book.kept ]; then same platen.book; else absent platen.book; fi
}

# edit FILE SED-SCRIPT: a copy of FILE with one thing changed, as x.json (or
# x.csv); an edit that changes nothing is a fault of the test.
edit() {
    case $1 in *.csv) edited=x.csv ;; *) edited=x.json ;; esac
    sed "$2" "$1" >"$edited"
    count=$((count + 1))
    ! cmp -s "$1" "$edited" || fail "the edit changes nothing: $2"
}

# A small shop of our own, invented: two rigs that press, one that breaks, and a
# study of one wood at four pressures, three times each.
write_shop() {
    cat >stones.json <<'END'
{ "name": "stones", "kind": "dead-weight",
  "settings": { "masses": [["20 kg", 2], ["10 kg", 1], ["5 kg", 1], ["2 kg", 2], ["1 kg", 1], ["0.5 kg", 1], ["0.2 kg", 2]],
                "platen": "0.2 kg" },
  "rated": "800 N" }
END
    cat >jack.json <<'END'
{ "name": "jack", "kind": "piston-press",
  "settings": { "bore": "50 mm", "side": "push", "medium": "air", "friction": "4 %", "breakaway": "0.3 bar",
                "supply": "8 bar" },
  "rated": "10 bar",
  "dial": { "unit": "bar", "to": "10 bar", "class": "1 %", "marks": "0.1 bar" } }
END
    cat >puller.json <<'END'
{ "name": "puller", "kind": "load-cell",
  "settings": { "accuracy": "1 %", "verified_from": "200 N" },
  "rated": "10 kN", "dial": { "unit": "kN", "to": "10 kN", "class": "0.2 %", "marks": "0.01 kN" } }
END
    cat >tread.json <<'END'
{
  "study": "tread",
  "title": "Treads of ash, pressed at four pressures",
  "question": { "aim": "plateau", "over": "pressure", "worth_noticing": "15 %" },
  "glue_ups_per_level": 3,
  "factors": [
    { "name": "pressure", "levels": ["0.3 N/mm2", "0.6 N/mm2", "1.2 N/mm2", "1.8 N/mm2"], "set_by": "press" }
  ],
  "joint": {
    "kind": "lap",
    "width": "30 mm",
    "overlap": "20 mm",
    "adherend": { "length": "90 mm", "width": "30 mm", "thickness": "12 mm" }
  },
  "boards": [{ "species": "ash", "count": 3, "length": "500 mm", "width": "70 mm", "thickness": "12 mm" }],
  "rigs": ["stones", "jack", "puller"],
  "presses": [
    { "name": "stand", "stations": 2, "rigs": ["stones"] },
    { "name": "press", "stations": 1, "rigs": ["jack"] }
  ],
  "breaking": { "rig": "puller", "expected_strength": "9 N/mm2" },
  "times": { "clamp": "30 min", "cure": { "at_least": "1 d" } },
  "scatter": "unknown"
}
END
}

# The shop's rigs in the book, the study planned, its sheets in tread-r1/.
open_shop() {
    write_shop
    for rig in stones jack puller; do run 0 rig add $rig.json; done
    run 0 plan tread.json --seed 11
    run 0 sheet tread.json
}

# form NAME ROW-FILTER: the rows of a form, columns set by awk: form breaks '$7 = 3'
form() {
    awk -F, -v OFS=, "NR > 1 { $2 } { print }" "tread-r1/$1.csv"
}

# The whole day filled in: dials as planned, and peaks that rise from pressure to
# pressure and level off: 3.0, 4.2, 5.0 and 5.05 kN, a tenth up or down by place.
fill_day() {
    "$platen" plan tread --json 2>err | awk -F'"' '
        $2 == "id" { id = $4 }
        $2 == "pressure" { level = 1 }
        $2 == "value" { split($3, v, /[ :,]+/); if (level) at = v[2]; else dial = v[2]; level = 0 }
        $2 == "glue_up" { glue_up = $4 }
        $2 == "rig" { rig = $4 }
        $2 == "spare" && id { print id, glue_up, at, rig, dial + 0; id = "" }' >planned.txt
    form sessions '$2 = "2027-03-01"' >sessions.csv
    awk -v OFS=, 'NR == FNR { dial[$2] = $5; next }
        FNR == 1 { FS = ","; print; next }
        { $0 = $0; if ($3 == "jack") $8 = $9 = dial[$1]; $4 = "08:00"; $5 = "08:04"; $6 = "08:05"; $7 = "08:35"; print }' \
        planned.txt tread-r1/glue-ups.csv >glue-ups.csv
    awk -v OFS=, 'BEGIN { kN["0.3"] = 3; kN["0.6"] = 4.2; kN["1.2"] = 5; kN["1.8"] = 5.05 }
        NR == FNR { peak[$1] = kN[$3]; next }
        FNR == 1 { FS = ","; print; next }
        { $0 = $0; $4 = "2027-03-03 10:" (10 + FNR); $5 = 30; $6 = 20; $7 = peak[$1] + (FNR % 3 - 1) / 10
          $9 = 10; $10 = "cohesive"; print }' planned.txt tread-r1/breaks.csv >breaks.csv
}

# The same as a user who owns nothing here. Root may do anything, so a test of
# permissions must not be root: where it cannot become somebody else, it fails.
# The program is copied to where that user can reach it.
nobody=65534
become_nobody() {
    mkdir -p bin/plugins
    cp "$platen" bin/platen
    cp "${PLATEN_BUILD:-$top/build}"/plugins/*.so bin/plugins/
    chmod -R go-w,a+rX bin
    if [ "$(id -u)" -ne 0 ]; then
        drop=
    else
        drop="setpriv --reuid=$nobody --regid=$nobody --clear-groups"
        [ "$($drop id -u)" = "$nobody" ] || fail "cannot become an unprivileged user"
    fi
}
as_nobody() {
    wanted=$1
    shift
    $drop "$work/bin/platen" "$@" >out 2>err
    got=$?
    count=$((count + 1))
    [ "$got" -eq "$wanted" ] || fail "as nobody: platen $*: exit $got, wanted $wanted"
}

finish() {
    echo "$count checks, $bad bad"
    [ "$bad" -eq 0 ]
}
