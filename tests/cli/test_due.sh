# due and the calendar: what is to be done when, before and after times were taken;
# label paper; the zone of the study and not of the machine.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
export TZ=America/Lima # not the study's
write_shop
sed 's/"clamp": "30 min"/"clamp": "30 min", "hands_on": "5 min", "zone": "Europe\/Vienna", "work": { "mon-fri": "08:00-17:00", "off": ["2027-03-02"] }/' tread.json >x.json
mv x.json tread.json
for rig in stones jack puller; do run 0 rig add $rig.json; done
run 0 plan tread.json --seed 11
run 0 sheet tread.json --at "2027-03-01 07:00"
says tread-r1/calendar.html
says tread-r1/calendar.ics
count=$((count + 1))
grep -q "^DTSTART:20270301T070000Z" tread-r1/calendar.ics || fail "the session does not begin at 8:00 in Vienna"
count=$((count + 1))
grep -q "Session 1: Mon 1 Mar 08:00" tread-r1/calendar.html || fail "calendar.html: no session"
count=$((count + 1))
grep -q "begin <b>08:35</b>" tread-r1/glue-up-session-1.html || fail "the second glue-up has no hour"
# what is pressed says nothing on the break sheet, nor there a station
count=$((count + 1))
! grep -qE "stones|jack|station" tread-r1/break-sheet.html || fail "the break sheet tells"
run 0 due tread --at "2027-03-01 08:10"
says "Now
"
says "  Mon 1 Mar 08:10   tread: glue session 1: G1 to G12"
silent "open G1"

# as the day goes on
printf 'glue_up,session,pressed_at,opened_at\nG1,1,2027-03-01 09:05,\nG2,1,2027-03-01 09:10,2027-03-01 09:41\n' >morning.csv
run 0 take tread morning.csv
run 0 due tread --at "2027-03-01 09:30"
says "Within a day"
says "  Mon 1 Mar 09:35   tread: open G1"
silent "open G2|open G3"
run 0 due tread --at "2027-03-01 09:40" --json
valid
says '"task": "open-G1"'
says '"state": "overdue"'
uid=$(awk '/^UID/ { u = $0 } /open G1:/ { print u; exit }' tread-r1/calendar.ics)
sequence=$(sed -n 's/^SEQUENCE:\([0-9]*\).*/\1/p;' tread-r1/calendar.ics | head -1)
sleep 1
run 0 sheet tread --replace --at "2027-03-01 09:40"
count=$((count + 1))
awk -v uid="$uid" '$0 == uid { here = 1 } here && /^DTSTART:20270301T083500Z/ { good = 1 }
    /^END:VEVENT/ { here = 0 } END { exit !good }' tread-r1/calendar.ics ||
    fail "the event of G1 did not move with its identity"
count=$((count + 1))
[ "$(sed -n 's/^SEQUENCE:\([0-9]*\).*/\1/p' tread-r1/calendar.ics | head -1)" -gt "$sequence" ] ||
    fail "SEQUENCE did not rise"

# everything done: nothing is due
fill_day
run 0 take tread --replace sessions.csv glue-ups.csv breaks.csv
run 0 due --at "2027-03-05 09:00"
says "Nothing is due."

run 2 due tread --at soon
warns '--at: found "soon"'

# label paper
run 0 sheet tread --to a4 --labels "63.5 x 38.1 mm" --label-gap "2.5 x 0 mm"
count=$((count + 1))
grep -q "@page{margin:0;size:210mm 297mm}" a4/labels.html || fail "no A4"
grep -q "repeat(3,63.5mm)" a4/labels.html || fail "not three across"
run 0 sheet tread --to us --labels "2.625 x 1 in" --label-gap "0.125 x 0 in" --paper letter
count=$((count + 1))
grep -q "repeat(3,66.675mm);grid-auto-rows:25.4mm;gap:0mm 3.175mm" us/labels.html || fail "not three across"
run 2 sheet tread --to b --labels "0 x 10 mm"
run 2 sheet tread --to b --labels "63.5"
warns "two lengths of 5 mm or more"
run 2 sheet tread --to b --labels "300 x 10 mm"
warns "a label larger than the paper"
run 2 sheet tread --to b --paper foolscap
absent b

finish
