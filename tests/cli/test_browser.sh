# Every page in a browser: as wide as a phone, a tablet and a desk, as wide as A4 and
# letter paper print, light and dark: nothing sticks out, nothing is hard to read,
# nothing runs, nothing is fetched, headings and pictures can be listened to. Measured
# by tests/browser/measure.js in copies of the pages, all in one run of the browser.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
browser=$(command -v chromium || command -v google-chrome || true)
[ -n "$browser" ] || {
    echo "SKIPPED: no Chromium here: pages are not measured in a browser"
    exit 0
}

# Texts that do harm where they are taken as markup, as script or as a command.
write_shop
sed 's|"title": "[^"]*"|"title": "\\"><img src=x onerror=ran=1><script>ran=1</script> `touch ran` system(\\"touch ran\\") '"'"');x('"'"' \\\\ \\u202e \\ud83e\\udeb5"|
    s|"species": "ash"|"species": "</title><svg onload=ran=1> '"'"'`touch ran`'"'"' \\\\n @{x}_2"|
    s|"name": "press", "stations"|"name": "\\" onclick=\\"ran=1\\" x=\\"", "stations"|
    s|"scatter": "unknown"|"adhesive": { "kind": "<b>\\u00e4 \& c</b>", "spread": "180 g/m2", "pot_life": "2 h" }, "scatter": "unknown"|' \
    tread.json >x.json
count=$((count + 1))
[ "$(grep -c 'ran=1' x.json)" -eq 3 ] || fail "the study is not hostile"
mv x.json tread.json
for rig in stones jack puller; do run 0 rig add $rig.json; done
run 0 plan tread.json --seed 11
run 0 sheet tread.json --at "2027-03-01 08:00"
fill_day
# a joint of each kind of break, so that all kinds of dots are there
awk -F, -v OFS=, 'NR == 3 { $9 = 90; $10 = "wood" } { print }' breaks.csv >x.csv && mv x.csv breaks.csv
run 0 take tread sessions.csv glue-ups.csv breaks.csv
run 0 mark tread "$(sed -n '4s/,.*//p' breaks.csv)" --exclude --reason "<script>ran=1</script> \"'\`touch ran\`"
run 0 report tread
# and a study of two woods that shows its strengths in two units; one wood's name is a
# group's in headings, pictures and tables
mkdir stairs && cd stairs
sed 's|"larch"|"<script>ran=1</script> '"'"'`touch ran`'"'"' \\\\"|g' "$top/designs/stair-lap.json" >stair-lap.json
for rig in "$top"/designs/rigs/*.json; do run 0 rig add "$rig"; done
run 0 plan stair-lap.json --seed 20260302
run 0 sheet stair-lap --at "2027-03-26 09:00"
"${PLATEN_BUILD:-$top/build}/invent" platen.book stair-lap filled 7 >out 2>err || fail "invent"
run 0 take stair-lap --as-written filled/sessions.csv filled/glue-ups.csv filled/breaks.csv
run 0 report stair-lap
cd ..
pages="tread-r1/*.html stairs/stair-lap-r1/report.html stairs/stair-lap-r1/c*.html stairs/stair-lap-r1/labels.html"
for page in $pages; do
    count=$((count + 1))
    grep -q "default-src 'none'" "$page" || fail "$page allows itself more than nothing"
done

# frame FILE WIDTH KIND: a copy with the script in it and without the page's policy,
# which would not let it run; print: its rules for paper hold
{ echo '<script>'; cat "$top/tests/browser/measure.js"; echo '</script>'; } >measure.html
frames=0
frame() {
    frames=$((frames + 1))
    sed -e '/Content-Security-Policy/s/<meta http-equiv[^>]*>//' -e '/^<\/main>$/r measure.html' "$1" >"frame-$frames.html"
    [ "$3" = screen ] || sed -i 's/@media print/@media all/g; s/@media screen/@media not all/g' "frame-$frames.html"
    echo "<iframe src=\"frame-$frames.html#$(basename "$1")-$3\" style=\"width:$2px;height:900px;border:0\"></iframe>" >>frames
}
# browse FLAG...: opens all frames; what they found is in `found`, one line a page
browse() {
    cat >harness.html <<'END'
<!DOCTYPE html><meta charset="utf-8"><title>all pages</title>
<pre id="said"></pre><script>
addEventListener("message", function (e) {
  document.getElementById("said").textContent += "PAGE " + e.data.page.replace(/.*#/, "") + " " + e.data.width + (e.data.dark ? "-dark" : "") +
    " " + e.data.faults.length + " " + e.data.faults.join("; ").replace(/\s+/g, " ") + "\n";
});
</script>
END
    cat frames >>harness.html
    timeout 100 "$browser" --headless --no-sandbox --disable-gpu --user-data-dir="$work/profile" --no-first-run --hide-scrollbars \
        --disable-background-networking --allow-file-access-from-files --virtual-time-budget=20000 "$@" \
        --dump-dom "file://$work/harness.html" >dom 2>browser.err
    grep '^PAGE\|<pre id="said">PAGE' dom | sed 's/.*<pre id="said">//' >found
}
judge() {
    count=$((count + 1))
    [ "$(wc -l <found)" -eq "$frames" ] || fail "$(wc -l <found) of $frames pages were measured: $(tail -3 browser.err)"
    while read -r _ page width faults words; do
        count=$((count + 1))
        [ "$faults" -eq 0 ] || fail "$page, $width px: $words"
    done <found
}

: >frames
for page in $pages; do
    for width in 360 768 1280; do frame "$page" $width screen; done
    # A4 and letter less 14 mm on each side, at 96 px to the inch
    for width in 688 710; do frame "$page" $width print; done
done
browse --blink-settings=preferredColorScheme=1
judge
: >frames
frames=0
for page in $pages; do frame "$page" 768 screen; done
browse --blink-settings=preferredColorScheme=0
judge
count=$((count + 1))
[ "$(grep -c ' 768-dark ' found)" -eq "$frames" ] || fail "the dark pages were not dark"
count=$((count + 1))
[ ! -e ran ] && [ ! -e stairs/ran ] || fail "a label was run by a shell"

# the measuring finds what is wrong: a page with one fault of each kind
: >frames
frames=0
cat >bad.html <<'END'
<!DOCTYPE html><html><head><title></title></head><body><main><h1>a</h1><h3>b</h3>
<p style="color:#999;background:#fff;width:2000px">pale and wide</p><svg width="9" height="9"></svg>
<table><tbody><tr><td>1</td></tr></tbody></table><a href="http://localhost/">x</a>
<img src="data:," onerror="window.ran=1"><script>window.ran=1</script>
</main>
</body></html>
END
frame bad.html 360 screen
browse
for fault in "px wide in a window" "contrast 2.8" "leaps" "without words" "without headings" "leaves the page" \
    "scripts of its own" "a label ran" "attribute onerror" "no language"; do
    count=$((count + 1))
    grep -qF "$fault" found || fail "the measuring does not find: $fault"
done

# a label, scanned
if command -v zbarimg >/dev/null; then
    id=$(sed -n '2s/,.*//p' breaks.csv)
    sed -n "/<svg class=\"code\"[^>]*aria-label=\"$id-a /s/.*\\(<svg class=\"code\"[^>]*aria-label=\"$id-a .*\\)/\\1/p" \
        tread-r1/labels.html | sed 's/<\/svg>.*/<\/svg>/; s/<svg /<svg width="300" height="300" /' >code.html
    timeout 60 "$browser" --headless --no-sandbox --disable-gpu --user-data-dir="$work/profile" --window-size=400,400 \
        --screenshot="$work/code.png" "file://$work/code.html" >/dev/null 2>&1
    count=$((count + 1))
    [ "$(zbarimg -q --raw code.png 2>/dev/null)" = "$id-a" ] || fail "the code of $id-a reads otherwise"
else
    echo "SKIPPED: no zbarimg here: no label is scanned"
fi
finish
