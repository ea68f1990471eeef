# check: a study read back in words, and every way to write one wrongly.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
write_shop

# the good path, without a book and with one; check makes none
run 0 check tread.json
says "You ask from which pressure on strength no longer rises"
says "600 mm2 break"
warns 'no rig "jack" in the book'
absent platen.book
for rig in stones jack puller; do run 0 rig add $rig.json; done
run 0 check tread.json
says "jack: 1.9 bar, gives 0.597 N/mm2, give or take 0.035 N/mm2"
says "stones: stack"
run 0 check tread.json --json
valid
says '"set_points": [{'
says '"gives": 596902.604'

# keys
edit tread.json 's/"title"/"titel"/'
refused 3 'x.json:3: /titel: found unknown key "titel"' check x.json
warns 'did you mean "title"?'
edit tread.json 's/"overlap"/"overlapp"/'
refused 3 'did you mean "overlap"?' check x.json
edit tread.json 's/"title": .*/"study": "tread",/'
refused 3 'found "study" a second time, expected each key once in its object' check x.json
edit tread.json 's/"width": "30 mm",$/"width": "30 mm", "width": "31 mm",/'
refused 3 '/joint/width: found "width" a second time' check x.json
edit tread.json '/"question"/d'
refused 3 'found no "question"' check x.json
edit tread.json '/"overlap"/d'
refused 3 'found no "overlap"' check x.json
echo '{}' >x.json
refused 3 'found no "study"' check x.json
for key in question factors joint; do warns "found no \"$key\""; done

# the text itself
cp tread.json x.json
echo '{}' >>x.json
refused 3 "expected nothing after the end" check x.json
edit tread.json 's/_level": 3/_level": 03/'
refused 3 "expected a number without leading zeros" check x.json
edit tread.json 's/_level": 3/_level": 1e999/'
refused 3 "expected a number below 1.8e308" check x.json
edit tread.json 's/_level": 3/_level": 2.5/'
refused 3 "found 2.5, expected a whole number from 1 to 1000" check x.json
edit tread.json 's/_level": 3/_level": 0/'
refused 3 "found 0, expected a whole number from 1 to 1000" check x.json
edit tread.json 's/_level": 3/_level": three/'
refused 3 "x.json:5:" check x.json
awk '{ sub(/Treads/, "Tr\377ads"); print }' tread.json >x.json
refused 3 "found byte 0xff, expected UTF-8" check x.json
edit tread.json '$d'
refused 3 "a bracket or a quote is not closed" check x.json
edit tread.json 's/ash, pressed at four pressures",/ash"/'
refused 3 "a comma is missing" check x.json
: >x.json
refused 3 "found the end of the text, expected a value" check x.json
echo '[]' >x.json
refused 3 "found [], expected an object" check x.json
mkdir -p folder
refused 3 "folder: found a folder, expected a file that can be read" check folder
refused 3 "neither a file nor a study in the book" check no-such.json

# values and units
edit tread.json 's/"0.6 N.mm2"/"0.6 mm2"/'
refused 3 'found "0.6 mm2", expected a pressure' check x.json
edit tread.json 's/"0.6 N.mm2"/0.6/'
refused 3 '/factors/0/levels/1: found 0.6' check x.json
edit tread.json 's/"0.6 N.mm2"/"0.6"/'
refused 3 '/factors/0/levels/1: found "0.6"' check x.json
edit tread.json 's/"0.6 N/"-0.6 N/'
refused 3 'expected a pressure of 0 or more' check x.json
edit tread.json 's/"0.6 N/"1e400 N/'
refused 3 'too large a number' check x.json
edit tread.json 's/"0.6 N/"0,6 N/'
refused 3 '/factors/0/levels/1: found "0,6 N/mm2"' check x.json
edit tread.json 's/"0.6 N/"0.3 N/'
refused 3 'level "0.3 N/mm2" twice' check x.json
edit tread.json 's/"20 mm",/"20 kg",/'
refused 3 '"kg" is a mass, not a length' check x.json
edit tread.json 's/"20 mm",/"0 mm",/'
refused 3 '/joint/overlap: found "0 mm"' check x.json
edit tread.json 's/"30 min"/"30 mm"/'
refused 3 '"mm" is a length, not a time' check x.json
edit tread.json 's/"15 %"/"15 bananas"/'
refused 3 '/question/worth_noticing: found "15 bananas"' check x.json
edit tread.json 's/"lap"/"lapp"/'
refused 3 'did you mean "lap"?' check x.json
edit tread.json 's/"over": "pressure"/"over": "presure"/'
refused 3 'did you mean "pressure"?' check x.json
edit tread.json 's/"plateau"/"summit"/'
refused 3 'found "summit"' check x.json
edit tread.json 's/"study": "tread"/"study": "Two Words"/'
refused 3 'expected a name of a-z, 0-9 and hyphen' check x.json
edit tread.json 's/"rig": "puller"/"rig": "pullar"/'
refused 3 'did you mean "puller"?' check x.json
edit tread.json 's/"20 mm",/"20 mm", "stated_area": "650 mm2",/'
refused 3 '/joint/stated_area: found "650 mm2", expected 600 mm2 from the dimensions' check x.json
edit tread.json 's/"20 mm",/"20 mm", "stated_area": "600 mm2",/'
run 0 check x.json

# several faults, one run, each with its place
edit tread.json 's/"title"/"titel"/; s/"20 mm",/"20 kg",/; s/"0.6 N/"0.6 m/; s/_level": 3/_level": 0/; s/"lap"/"lapp"/'
refused 3 "x.json:3: /titel" check x.json
for place in "x.json:5: /glue_ups_per_level" "x.json:7: /factors/0/levels/1" "x.json:10: /joint/kind" \
    "x.json:12: /joint/overlap"; do
    warns "$place"
done

# advice refuses nothing and names the change
edit tread.json 's/"1.8 N/"12 N/; s/"8 bar"/"80 bar"/'
run 0 check x.json --book none.book
warns "advice"
edit tread.json 's/"9 N/"19 N/'
run 0 check x.json
warns "puller"
warns "advice"
# a level that no rig makes is refused by plan; check says it beside the level
edit tread.json 's/"1.8 N/"6 N/'
keep platen.book
run 1 check x.json
warns "6 N/mm2, which no rig makes"
warns "mend: "
same platen.book

# a study written for other rigs than the book has
edit tread.json 's/"jack"/"ram"/g'
run 0 check x.json
warns 'no rig "ram" in the book'
finish
