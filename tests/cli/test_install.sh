# make install into a folder of its own, and the installed program at work: it
# finds its plugins from where it lies, without the build tree.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"
build=${PLATEN_BUILD:-$top/build}
umask 022
mkdir root
if ! make -C "$top" --no-print-directory PLATEN_SETUP_DONE=1 B="$build" DESTDIR="$work/root" PREFIX=/usr \
    install >out 2>err; then
    fail "make install"
fi
at=$work/root/usr
for file in bin/platen lib/platen/plugins/piston-press.so lib/platen/plugins/dead-weight.so \
    lib/platen/plugins/load-cell.so include/platen/plugin.h lib/pkgconfig/platen.pc \
    share/platen/designs/stair-lap.json share/platen/designs/rigs/air-press.json \
    share/doc/platen/study-file.md share/doc/platen/exit-codes.md; do
    count=$((count + 1))
    [ -f "$at/$file" ] || fail "not installed: $file"
done
count=$((count + 3))
[ -x "$at/bin/platen" ] || fail "the program cannot be run"
find "$at" -perm /022 ! -type l | grep . && fail "installed so that others may write it"
grep -q '@' "$at/lib/pkgconfig/platen.pc" && fail "the pkg-config file has gaps"

# what is outside DESTDIR stays outside it
count=$((count + 1))
grep -q "$work" "$at/lib/pkgconfig/platen.pc" && fail "DESTDIR got into the pkg-config file"

# an outside author's plugin: the header and the flags are enough
count=$((count + 1))
flags=$(PKG_CONFIG_PATH=$at/lib/pkgconfig PKG_CONFIG_SYSROOT_DIR=$work/root pkg-config --cflags platen) ||
    fail "pkg-config does not know platen"
echo '#include <platen/plugin.h>
int main(void) { return (int)sizeof(platen_plugin) == 0; }' >author.c
# shellcheck disable=SC2086 -- flags are words
${CC:-cc} -I"$at/include" $flags -c -o author.o author.c 2>err || fail "the header does not compile alone"

platen=$at/bin/platen
run 0 --version
run 0 rig list
says "kind piston-press"
says "kind dead-weight"
says "kind load-cell"
run 0 rig show piston-press
says "$at/lib/platen/plugins/piston-press.so"
for rig in weights air-press pull-bench; do run 0 rig add "$at/share/platen/designs/rigs/$rig.json"; done
run 0 check "$at/share/platen/designs/stair-lap.json"
says "air-press: 3.2 bar"
for design in "$at"/share/platen/designs/*.json; do
    run 0 check "$design"
    quiet "refused"
done
run 0 plan "$at/share/platen/designs/stair-lap.json" --look --seed 1
says "72 glue-ups"
finish
