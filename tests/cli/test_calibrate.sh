# rig calibrate: points against a load cell into the book, and what is refused.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

cat >jack.json <<'J'
{ "name": "jack", "kind": "piston-press",
  "settings": { "bore": "63 mm", "friction": 0 }, "rated": "10 bar",
  "dial": { "unit": "bar", "to": "10 bar", "class": "1.6 %", "marks": "0.2 bar" } }
J
printf 'dial [bar],force [N]\n1,290\n2,580\n4,1160\n6,1740\n8,2320\n' >points.csv
run 0 rig add jack.json
run 0 rig dial jack --pressure "0.8 N/mm2" --area "40 mm x 30 mm"
warns "never held against a scale or load cell"
says "set 3.1 bar" # 960 N by bore times dial: 3.08 bar, to half a mark
run 0 rig calibrate jack points.csv --date 2026-02-01 --against "a cell" --against-uncertainty "0.5 %"
says "calibration of 2026-02-01"
# 0.8 N/mm2 on 1200 mm2 is 960 N: 3.31 bar at 290 N a bar
run 0 rig dial jack --pressure "0.8 N/mm2" --area "40 mm x 30 mm"
says "set 3.3 bar"
run 0 rig dial jack --reading "4 bar"
says "1160 N"
run 0 rig show jack
says '"against": "a cell"'
# an old calibration is said; the newest counts
run 0 rig add jack.json --replace
run 0 rig calibrate jack points.csv --date 2020-02-01
run 0 rig dial jack --reading "4 bar"
warns "more than a year ago"

keep platen.book
printf 'dial,force\n1,2\n' >bare.csv
printf 'dial [bar],force [N]\n1,2\n2,4\n' >two.csv
printf 'dial [bar],force [N]\n1,29\n2,20\n3,10\n' >falls.csv
printf 'dial [bar],force [N]\n1,x\n2,20\n3,30\n' >word.csv
printf 'dial [bar],load [N]\n1,10\n2,20\n3,30\n' >other.csv
refused 3 'without a unit' rig calibrate jack bare.csv
refused 3 'points' rig calibrate jack two.csv
refused 3 'falls as the dial rises' rig calibrate jack falls.csv
refused 3 '"x"' rig calibrate jack word.csv
refused 3 'no column "force"' rig calibrate jack other.csv
refused 3 'a date' rig calibrate jack points.csv --date yesterday
refused 3 'no rig "jak"' rig calibrate jak points.csv
refused 3 'missing.csv' rig calibrate jack missing.csv
refused 2 'rig calibrate with' rig calibrate jack
same platen.book
finish
