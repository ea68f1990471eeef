# docs/write-a-rig.md, typed as it stands, with nothing but an installed tree.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
build=${PLATEN_BUILD:-$top/build}
umask 022
mkdir root author
make -C "$top" --no-print-directory PLATEN_SETUP_DONE=1 B="$build" DESTDIR="$work/root" PREFIX=/usr \
    install >out 2>err || fail "make install"
at=$work/root/usr
awk '/^```sh/ { inside = 1; next } /^```/ { inside = 0 } inside' "$at/share/doc/platen/write-a-rig.md" \
    >commands
cd author || exit 1
count=$((count + 1))
# what a system-wide install needs no words for: where program and package lie
env -i HOME="$work/author" LC_ALL=C.UTF-8 PATH="$at/bin:/usr/bin:/bin" ASAN_OPTIONS="${ASAN_OPTIONS:-}" \
    PKG_CONFIG_PATH="$at/lib/pkgconfig" PKG_CONFIG_SYSROOT_DIR="$work/root" CPATH="$at/include" \
    sh -e ../commands >../out 2>../err || { cd ..; fail "the guide does not run"; cd author || exit 1; }
cd ..
says "38 checks, 0 failed"
says "my-bench-vice at 20 mm: 1000 N"
says "my-bench-vice: set 12 mm"
says "Frozen in platen.book as revision 1."
says "Took 3 readings from 1 file."
says "study vice-lap: revision 1"
count=$((count + 1))
[ "$(wc -l <author/bench-vice/bench-vice.c)" -lt 100 ] || fail "the beginning is not well under a hundred lines"

# the same beginning inside the project's tree, under the project's own warnings
mkdir -p tree/plugins
for part in Makefile core tests designs docs; do ln -s "$top/$part" tree/$part; done
for part in include exports.map; do ln -s "$top/plugins/$part" tree/plugins/$part; done
run 0 rig new bench-vice --to tree/plugins
make -C tree --no-print-directory PLATEN_SETUP_DONE=1 WERROR=-Werror B=made made/plugins/bench-vice.so \
    >out 2>err || fail "the beginning does not build inside the tree"
count=$((count + 1))
run 0 rig try --plugin tree/made/plugins/bench-vice.so tree/plugins/bench-vice/bench-vice.json \
    tree/plugins/bench-vice/recordings/pull.csv
says "38 checks, 0 failed"

# a name that is there already is said
run 0 rig new piston-press
warns "there already"

# refused: names that would leave the folder, and what is there already
keep author/bench-vice/bench-vice.c
refused 2 '"../escape"' rig new ../escape
refused 2 '"Vice"' rig new Vice
refused 5 'there already' rig new bench-vice --to author
same author/bench-vice/bench-vice.c
finish
