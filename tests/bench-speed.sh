#!/bin/sh
# How fast the numbers are, beside what else does them on this machine: processor seconds of one
# core, the least of several runs, ours and theirs in turn in one call; the program as its user runs
# it where a command does it. Not a test: nothing here fails for being slow. The aims were set on
# a core with AVX-512; with AVX2 a little over half of them is to be expected.
set -eu
top=${PLATEN_TOP:-$PWD}
platen=${PLATEN:-$top/build/platen}
build=${PLATEN_BUILD:-$top/build}
speed=$build/speed
room=$build/bench-speed
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
(cd "$top" && ${CC:-cc} -std=gnu11 -O2 -D_GNU_SOURCE -Icore -Iplugins/include -fopenmp -o "$speed" \
    tests/bench/speed.c "$build/libplaten.a" -lseccomp -ldl -lsqlite3 -lz -lgsl -lgslcblas -lcjson -lcsv \
    -ludunits2 -lcrypto -lm)
mkdir -p "$room"
cd "$room"

R=
command -v Rscript >/dev/null && R=Rscript
for python in python3 /usr/bin/python3 none; do
    "$python" -c 'import scipy' 2>/dev/null && break
done
[ "$python" = none ] && python=

# cpu_s TIMES COMMAND...: processor seconds of one run, the least of so many, to 0.1 ms
cpu_s() {
    n=$1
    shift
    "$speed" cpu "$n" "$@"
}
# peer r|python SCRIPT [FILE]: what it prints; nothing where it is not installed
peer() {
    what=$1
    shift
    if [ "$what" = r ] && [ -n "$R" ]; then
        $R --vanilla "$top/tests/bench/$@" 2>/dev/null || true
    elif [ "$what" = python ] && [ -n "$python" ]; then
        "$python" "$top/tests/bench/$@" 2>/dev/null || true
    fi
}
field() { echo "$1" | cut -d' ' -f"$2"; }
heading() { printf '\n%s\n' "$1"; }
# row WHAT VALUE UNIT at-most|at-least AIM
row() {
    awk -v what="$1" -v x="$2" -v unit="$3" -v way="$4" -v aim="$5" 'BEGIN {
        met = way == "at-most" ? x <= aim : x >= aim
        printf "  %-58s %9.4g %-8s %s %s: %s\n", what, x, unit, way, aim, met ? "met" : "MISSED" }'
}
# beside WHAT OURS THEIRS AIM: both rates
beside() {
    if [ -z "$3" ]; then
        echo "  $1: SKIPPED, not installed"
        return
    fi
    row "$1" "$(awk "BEGIN { print $2 / $3 }")" times at-least "$4"
}
rate() { awk "BEGIN { print $1 / $2 }"; }

grep -m1 -o 'avx512f' /proc/cpuinfo || grep -m1 -o 'avx2' /proc/cpuinfo || echo "neither AVX-512 nor AVX2"

heading "Chances by theory"
row "exact one-way power" "$("$speed" power)" "us" at-most 1
theirs=$(peer r tails.R)
beside "noncentral F, both tails: libRmath's pnf" "$("$speed" ncf)" "$(field "$theirs" 1)" 0.8
beside "studentised range, both tails: libRmath's ptukey" "$("$speed" range)" "$(field "$theirs" 2)" 2

heading "Chances by drawing: 8 levels, 2 to 12 of each, a million experiments each"
drawn() { # HOW...: experiments a second
    s=$(cpu_s 3 "$platen" size --levels 8 --scatter "10 %" --worth-noticing "20 %" \
        --glue-ups-per-level 12 --draws 1000000 --drawn "$@")
    rate 11e6 "$s"
}
joints=$(drawn in-proportion --per-block 8)
sums=$(drawn alike)
r=$(peer r power.R)
numpy=$(peer python power.py)
row "every joint drawn, 10 numbers, on two cores" "$(awk "BEGIN { print 10e6 / $joints / 2 }")" s at-most 1
beside "every joint drawn: R matrix code" "$joints" "$r" 15
beside "every joint drawn: NumPy" "$joints" "$numpy" 3.5
beside "sufficient statistics: R matrix code" "$sums" "$r" 80

heading "Studies of a plateau: 8 levels, 3 to 12 of each, drawn, fitted, the onset found"
awk 'BEGIN { split("0.2 0.4 0.6 0.8 1 1.4 1.8 2.5", x); print "pressure,strength"; for (i = 1; i <= 8; i++)
    for (k = 0; k < i + 2 + (i > 6) * (i - 6); k++) { u = (u * 69069 + 12345) % 65536
        printf "%s,%.4f\n", x[i], 10 * (1 - exp(-2 * x[i])) + (u / 65536 - 0.5) * 2.8 } }' >refits.csv
studies() { # CURVE...
    cpu_s 3 "$platen" fit --data refits.csv --response strength --over pressure --bootstrap 1000000 \
        --seed 1 "$@"
}
rise=$(studies --curve saturating-exponential --floor 0)
knee=$(studies --curve linear-plateau --log-x)
r=$(peer r fits.R)
row "saturating exponential, a million" "$rise" s at-most 0.4
beside "saturating exponential: R's nls" "$(rate 1e6 "$rise")" "$(field "$r" 1)" 4000
beside "saturating exponential: SciPy's curve_fit" "$(rate 1e6 "$rise")" "$(peer python fits.py)" 500
beside "linear plateau in log x: R's nls" "$(rate 1e6 "$knee")" "$(field "$r" 2)" 15000
judged() { # DRAWS: of each of two layouts
    cpu_s 3 "$platen" size --levels 8 --from "0.2 N/mm2" --to "2.5 N/mm2" --within "factor 1.5" \
        --onset "1 N/mm2" --scatter "10 %" --glue-ups-per-level 6 --draws "0:$1"
}
few=$(judged 500)
many=$(judged 100000)
row "with averaged interval and state, times the point fit" \
    "$(awk "BEGIN { print ($many - $few) / 199000 / ($rise / 1e6) }")" times at-most 20

heading "The bootstrap: 10,000 refits of one curve, whole processes"
ours=$(cpu_s 5 "$platen" fit --data refits.csv --response strength --over pressure \
    --curve saturating-exponential --floor 0 --bootstrap 10000 --seed 1)
if [ -n "$R" ]; then
    beside "R's nls" "$(rate 1 "$ours")" "$(rate 1 "$(cpu_s 1 $R --vanilla "$top/tests/bench/refits.R" refits.csv)")" 400
fi
if [ -n "$python" ]; then
    beside "SciPy's curve_fit" "$(rate 1 "$ours")" \
        "$(rate 1 "$(cpu_s 1 "$python" "$top/tests/bench/refits.py" refits.csv)")" 100
fi

heading "Re-randomisations within 6 complete blocks of 8, whole processes"
awk 'BEGIN { print "block,level,strength"; for (b = 1; b <= 6; b++) for (k = 1; k <= 8; k++) {
    u = (u * 69069 + 12345) % 65536; printf "B%d,L%d,%.2f\n", b, k, 9 + b / 2 + k / 20 + u / 30000 } }' >again.csv
again() { # DRAWS TIMES
    cpu_s "$2" "$platen" fit --data again.csv --response strength --effect level --block block \
        --randomised "$1" --seed 1
}
ours=$(again 1000000 5)
row "a million" "$ours" s at-most 0.040
row "100 million" "$(again 100000000 3)" s at-most 1.5
if [ -n "$R" ]; then
    beside "a million: R, a table of all orders" "$(rate 1 "$ours")" \
        "$(rate 1 "$(cpu_s 2 $R --vanilla "$top/tests/bench/again.R" again.csv)")" 80
fi
if [ -n "$python" ]; then
    beside "a million: NumPy, a table of all orders" "$(rate 1 "$ours")" \
        "$(rate 1 "$(cpu_s 2 "$python" "$top/tests/bench/again.py" again.csv)")" 15
fi

heading "Random boards by restricted likelihood"
r=$(peer r boards.R boards.csv)
if [ -n "$r" ]; then
    mine=$("$speed" reml boards.csv)
    beside "8 treatments, 60 boards of 4: nlme's lme" "$(field "$mine" 1)" "$(field "$r" 1)" 3000
    row "equal digits of both scatters and eight means" "$(echo "$mine $r" | awk '{
        least = 17
        for (i = 2; i <= 11; i++) { d = ($i - $(i + 11)) / $(i + 11); d = d < 0 ? -d : d
            digits = d > 0 ? -log(d) / log(10) : 17; least = digits < least ? digits : least }
        print least }')" digits at-least 10
else
    echo "  nlme: SKIPPED, not installed"
fi
mixed() { # SIZE SPREAD: 60 boards of SIZE - SPREAD to SIZE + SPREAD joints, figures by a fixed rule
    awk -v size="$1" -v spread="$2" 'BEGIN { for (b = 0; b < 60; b++) {
        x = (x * 69069 + 12345) % 65536; u = x / 20000
        for (k = 0; k < size + spread * (b % 3 - 1); k++) { x = (x * 69069 + 12345) % 65536
            printf "%d,%d,%.3f\n", b, (5 * b + k) % 8, 9 + u + x / 30000 } } }' >mixed.csv
    field "$("$speed" reml mixed.csv)" 1
}
row "boards of 3 to 5, times the time of boards of 4" "$(rate "$(mixed 4 0)" "$(mixed 4 1)")" times at-most 4
big() { # BOARDS: ten joints each, eight pressures, figures made by a fixed rule
    awk -v n="$1" 'BEGIN { print "board,pressure,strength"; for (b = 0; b < n; b++) for (k = 0; k < 10; k++) {
        x = (x * 69069 + 12345) % 65536; if (!k) u = x / 20000
        printf "B%d,%.1f,%.3f\n", b, 0.2 * (1 + (b + k) % 8), 9 + u + x / 30000 } }' >"boards-$1.csv"
    cpu_s 3 "$platen" fit --data "boards-$1.csv" --response strength --effect pressure --random board
}
tenth=$(big 1000)
whole=$(big 10000)
row "100,000 joints on 10,000 boards, analysis and REML" "$whole" s at-most 1
row "that, times a tenth of it" "$(rate "$whole" "$tenth")" times at-most 11
