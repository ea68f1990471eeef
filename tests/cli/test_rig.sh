# rig: the shop's rigs, and every way to write one wrongly.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
write_shop

# kinds, without a book; listing makes none
run 0 rig list
says "kind piston-press"
absent platen.book
run 0 rig show piston-press
says "inner diameter of the cylinder; needed"
silent "[0-9] Pa|e\+[0-9]| m unless" # settings in shop units
run 0 rig show piston-press --json
valid
refused 3 'found kind of rig "piston", expected one of dead-weight, load-cell, piston-press, pressure-log, screw-press or test-frame' rig show piston
warns 'is "piston-press" meant?'

# adding; a book is made and said; what is assumed is said as the shop would
run 0 rig add jack.json
warns "rod 0 mm"
quiet "[0-9] Pa|[0-9] m[,;]"
says "made the book platen.book"
says "rig jack (piston-press) is in the book"
run 0 rig add jack.json
says "was there already"
run 0 rig show jack
says '"bore": "50 mm"'
run 0 rig show jack --json
valid
for rig in stones puller; do run 0 rig add $rig.json; done
run 0 rig list --json
valid
says '"name": "stones"'

# a rig file with a fault: the book is not touched
edit jack.json 's/piston-press/piston-pres/'
refused 3 'is "piston-press" meant?' rig add x.json
edit jack.json 's/"bore"/"boor"/'
refused 3 'x.json:2: /settings/boor: found setting "boor"' rig add x.json
warns 'found no setting "bore"'
edit jack.json 's/"bore": "50 mm", //'
refused 3 'found no setting "bore"' rig add x.json
edit jack.json 's/50 mm/50 bar/'
refused 3 '"bar" is a pressure, not a length' rig add x.json
edit jack.json 's/"50 mm"/50/'
refused 3 '/settings/bore: found 50' rig add x.json
edit jack.json 's/50 mm/-50 mm/'
refused 3 '/settings/bore: found "-50 mm"' rig add x.json
edit jack.json 's/"push"/"upward"/'
refused 3 'found "upward", expected push or pull' rig add x.json
edit jack.json 's/"4 %"/"400 %"/'
refused 3 '/settings/friction: found "400 %"' rig add x.json
edit jack.json 's/"rated": "10 bar"/"rated": "10 kg"/'
refused 3 '/rated: found "10 kg"' rig add x.json
edit jack.json 's/"1 %"/"one"/'
refused 3 '/dial/class: found "one"' rig add x.json
edit jack.json 's/"dial"/"dail"/'
refused 3 'did you mean "dial"?' rig add x.json
edit jack.json 's/"rated": "10 bar",/"rated": "10 bar", "rated": "11 bar",/'
refused 3 'found "rated" a second time' rig add x.json
edit stones.json 's/\["20 kg", 2\]/["20 kg", -2]/'
refused 3 '/settings/masses' rig add x.json
edit stones.json 's/"20 kg"/"20 mm"/'
refused 3 '"mm" is a length' rig add x.json
refused 3 "no such file" rig add no-such.json
refused 3 'unknown key "study"' rig add tread.json

# another rig of the same name
edit jack.json 's/50 mm/80 mm/'
refused 3 'found a rig "jack" with other settings' rig add x.json
run 0 rig add x.json --replace
run 0 rig add jack.json --replace

# the dial both ways
run 0 rig dial jack --pressure "1.2 N/mm2" --area "30 mm x 20 mm"
says "jack: set 3.8 bar; gives 1.19 N/mm2, give or take 0.037 N/mm2; rated limit 10 bar"
run 0 rig dial jack --pressure "1.2 N/mm2" --area "600 mm2" --json
valid
says '"unit": "bar"'
run 0 rig dial jack --reading "3.8 bar"
says "716.3 N"
run 0 rig dial stones --pressure "0.3 N/mm2" --area "30x20 mm" --json
valid
says '"parts": ["10 kg", "5 kg", "2 kg", "1 kg", "0.2 kg"]'
refused 1 "the supply gives 8 bar" rig dial jack --pressure "9 N/mm2" --area "600 mm2"
refused 1 "jack" rig dial jack --pressure "0.01 N/mm2" --area "600 mm2"
refused 1 "the piston does not move yet" rig dial jack --reading "0.1 bar"
refused 1 "does not press" rig dial puller --pressure "1 bar" --area "600 mm2"
refused 1 "which has no dial" rig dial stones --reading "3 N"
refused 1 "with all of them" rig dial stones --pressure "9 N/mm2" --area "600 mm2"
refused 2 "is a length, not a pressure" rig dial jack --pressure "1 mm" --area "600 mm2"
refused 2 "a length needs its unit" rig dial jack --pressure "1 bar" --area "30x20"
refused 2 "a pressure above zero" rig dial jack --pressure=-1bar --area "600 mm2"
refused 2 "more than nothing to press on" rig dial jack --pressure "1 bar" --area "0 mm x 20 mm"
refused 2 "is a length, not an area" rig dial jack --pressure "1 bar" --area "30 mm"
refused 2 "the bonded area beside --pressure" rig dial jack --pressure "1 bar"
refused 2 "neither --pressure nor --reading" rig dial jack
refused 2 "both --pressure and --reading" rig dial jack --pressure "1 bar" --area "600 mm2" --reading "1 bar"
refused 2 "is a length, not a pressure" rig dial jack --reading "3 mm"
refused 3 'no rig "jck"' rig dial jck --reading "3 bar"
refused 2 "platen rig dial NAME" rig dial
refused 2 "platen rig list" rig list more
refused 2 'did you mean "add"?' rig ad jack.json
finish
