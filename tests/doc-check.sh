#!/bin/sh
# Every file that a page of ours points to is there: links, and paths in
# backticks that begin with one of the top folders.
set -eu
bad=0
for page in README.md DEVELOPERS.md docs/*.md docs/*/*.md plugins/*/README.md datasets/*/README.md; do
    [ -f "$page" ] || continue
    here=$(dirname "$page")
    for to in $(sed -n 's/[^]]*\](\([^)# ]*\)[^)]*)[^]]*/\1\n/gp' "$page" | grep -v '^[a-z]*:' || true); do
        [ -e "$here/$to" ] || {
            echo "$page: link to $to, which is not there"
            bad=1
        }
    done
    for to in $(grep -oE '`(core|plugins|designs|tests|datasets|docs)/[A-Za-z0-9_./{},-]*`' "$page" |
        tr -d '`' | grep -vE '[{}*]|NAME|ROOM|\.\.\.' || true); do
        [ -e "$to" ] || {
            echo "$page: speaks of $to, which is not there"
            bad=1
        }
    done
done
[ $bad -eq 0 ] && echo "doc-check: every file that the pages speak of is there"
exit $bad
