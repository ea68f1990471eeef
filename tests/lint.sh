#!/bin/sh
# clang-format, clang-tidy and cppcheck, all clean. $1: flags of the build.
set -eu
sources=$(git ls-files 'core/*.c' 'plugins/*.c')
all=$(git ls-files 'core/*.[ch]' 'plugins/*.[ch]' 'tests/*.[ch]')

clang-format --dry-run -Werror $all
echo "lint: clang-format is content with $(echo "$all" | wc -l) files"
cppcheck --quiet --error-exitcode=1 --inline-suppr --std=c11 --enable=warning,portability \
    --suppress=missingIncludeSystem --suppress=normalCheckLevelMaxBranches \
    -Icore -Iplugins/include -D_GNU_SOURCE $sources
echo "lint: cppcheck is content"
echo "$sources" | xargs -P 2 -n 8 sh -c 'clang-tidy --quiet "$@" -- '"$1"' 2>/dev/null' sh
echo "lint: clang-tidy is content"
