#!/bin/sh
# Every header compiles alone; the plugin header also as C++.  $1: compiler and flags
set -eu
bad=0
for h in $(find core plugins/include -name '*.h'); do
    echo "#include \"$PWD/$h\"" | $1 -x c -fsyntax-only - || { echo "$h: does not compile alone"; bad=1; }
done
# the one that others build against: plain C of any year, two standard headers and no other
plugin=plugins/include/platen/plugin.h
for std in c99 c11 c17; do
    echo '#include <platen/plugin.h>' |
        cc -std=$std -Wall -Wextra -pedantic -Werror -Iplugins/include -x c -fsyntax-only - || bad=1
done
[ "$(grep '^#include' $plugin | tr '\n' ' ')" = '#include <stddef.h> #include <stdint.h> ' ] || {
    echo "$plugin: includes more than stddef.h and stdint.h"
    bad=1
}
if command -v g++ >/dev/null 2>&1 && [ -f plugins/include/platen/plugin.h ]; then
    echo '#include <platen/plugin.h>' |
        g++ -std=c++11 -Wall -Wextra -pedantic -Werror -Iplugins/include -x c++ -fsyntax-only - || bad=1
fi
[ $bad -eq 0 ] && echo "header-check: every header compiles alone"
exit $bad
