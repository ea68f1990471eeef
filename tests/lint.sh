#!/bin/sh
# clang-format, clang-tidy and cppcheck, all clean. $1: flags of the build. Runs
# all three before it fails, and shows what each found.
set -u
sources=$(git ls-files 'core/*.c' 'plugins/*.c')
all=$(git ls-files 'core/*.[ch]' 'plugins/*.[ch]' 'tests/*.[ch]')
failed=0

verdict() { # tool, exit status
    if [ "$2" -eq 0 ]; then
        echo "lint: $1 is content"
    else
        echo "lint: $1 found faults"
        failed=1
    fi
}

# shellcheck disable=SC2086 # lists of names without blanks
clang-format --dry-run -Werror $all
verdict "clang-format" $?

# shellcheck disable=SC2086
cppcheck --quiet --error-exitcode=1 --inline-suppr --std=c11 --enable=warning,portability \
    --suppress=missingIncludeSystem --suppress=normalCheckLevelMaxBranches \
    -Icore -Iplugins/include -D_GNU_SOURCE $sources
verdict cppcheck $?

# stderr holds counts of what lies outside our headers, and what is worth reading:
# a faulty .clang-tidy.
said=$(mktemp)
trap 'rm -f "$said"' EXIT
echo "$sources" | xargs -P "$(nproc)" -n 1 sh -c 'clang-tidy --quiet "$@" -- -DPL_VERSION=\"x\" -DPL_PREFIX=\"x\" '"$1" sh 2>"$said"
status=$?
grep -v 'warnings\{0,1\} generated\.$' "$said" >&2 && status=1
verdict clang-tidy $status
exit $failed
