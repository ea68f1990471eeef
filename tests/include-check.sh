#!/bin/sh
# Holds the looking direction: a room includes headers of the rooms it may see
# and of no other, and only the system headers of the libraries that are at
# home in it.
set -eu

sees() {
    case $1 in
    base) echo base ;;
    study) echo base study ;;
    model) echo base study model ;;
    design) echo base study model design ;;
    fit) echo base study model design fit ;;
    size) echo base study model design fit size ;;
    rigs) echo base study model rigs ;;
    book) echo base study book ;;
    page) echo base page ;;
    bench) echo base study model design fit size rigs book page bench ;;
    report) echo base study model design fit size rigs book page report ;;
    cli) echo base study model design fit size rigs book page bench report cli ;;
    esac
}

# library header, the one room (or two) that may name it
library() {
    case $1 in
    sqlite3.h) echo book ;;
    dlfcn.h | seccomp.h) echo rigs ;;
    argp.h) echo cli ;;
    qrencode.h) echo page ;;
    cjson/* | csv.h | udunits2.h | openssl/*) echo base ;;
    zlib.h) echo book ;;
    *) echo any ;;
    esac
}

bad=0
edges=0
for room in base study model design fit size rigs book page bench report cli; do
    allowed=" $(sees $room) "
    for file in $(find "core/$room" -name '*.[ch]'); do
        for include in $(sed -n 's/^ *# *include *"\([^"]*\)".*/\1/p' "$file"); do
            to=${include%%/*}
            edges=$((edges + 1))
            case "$to" in
            platen) [ "$room" = rigs ] && continue ;;
            esac
            case "$allowed" in
            *" $to "*) ;;
            *)
                echo "$file: room $room may not look at \"$include\""
                bad=1
                ;;
            esac
        done
        for include in $(sed -n 's/^ *# *include *<\([^>]*\)>.*/\1/p' "$file"); do
            home=$(library "$include")
            case " any $home " in
            *" $home "*) [ "$home" = any ] || [ "$home" = "$room" ] || {
                echo "$file: <$include> is at home in core/$home only"
                bad=1
            } ;;
            esac
        done
    done
done
for file in $(find plugins -name '*.[ch]' ! -path 'plugins/include/*'); do
    for include in $(sed -n 's/^ *# *include *"\([^"]*\)".*/\1/p' "$file"); do
        echo "$file: a plugin includes <platen/plugin.h> and the standard headers, not \"$include\""
        bad=1
    done
done
[ $bad -eq 0 ] && echo "include-check: $edges includes, all in the looking direction"
exit $bad
