#!/bin/sh
# A large simulation of `platen size` in parts, on the cores of one machine or on many.
#
#   sh spread-size.sh STUDY.json DRAWS PARTS FOLDER
#
# Writes FOLDER/part-I.json and the answer, FOLDER/size.json. GNU parallel shares out the parts where
# it is installed (PARALLEL_OPTIONS="--sshloginfile machines" sends them to other machines that see
# the same folder); else the parts run beside each other here. On a batch system submit one job
# a part instead, an array of them, each with its own number in I:
#
#   PART=I sh spread-size.sh STUDY.json DRAWS PARTS FOLDER
#
# and run the last line of this script when all have ended.
set -eu
study=$1 draws=$2 parts=$3 folder=$4
platen=${PLATEN:-platen}
mkdir -p "$folder"

part() { # I: draws I/PARTS to (I+1)/PARTS
    "$platen" size "$study" --json \
        --draws "$((draws * $1 / parts)):$((draws * ($1 + 1) / parts))" >"$folder/part-$1.json"
}

if [ -n "${PART:-}" ]; then
    part "$PART"
    exit
fi
if command -v parallel >/dev/null 2>&1; then
    i=0
    while [ $i -lt "$parts" ]; do echo $i; i=$((i + 1)); done |
        # shellcheck disable=SC2086
        parallel ${PARALLEL_OPTIONS:-} "PART={} sh '$0' '$study' $draws $parts '$folder'"
else
    i=0
    while [ $i -lt "$parts" ]; do
        part $i &
        i=$((i + 1))
    done
    wait
fi
set --
for file in "$folder"/part-*.json; do set -- "$@" --merge "$file"; done
"$platen" size "$study" "$@" --json >"$folder/size.json"
