# The frame of every verb: help, usage, exit codes, JSON on error.
. "${PLATEN_TOP:-.}/tests/cli/lib.sh"

run 0 --version
says "platen "
run 0 --help
for verb in check size plan sheet take fit report rig book help; do
    run 0 --help
    says "  $verb"
    run 0 help $verb
    says "platen $verb"
    says "--json"
    run 0 $verb --help
    says "platen $verb"
done
run 2
run 2 chek x
warns 'did you mean "check"?'
run 2 check
warns "platen check STUDY"
run 2 check a b
run 2 check --bok x y
warns "did you mean --book?"
run 2 plan x --seed -1
run 2 plan x --seed 9007199254740992
warns "a whole number from 0 to 9007199254740991"
run 2 plan x --seed
run 2 size --levels
run 2 help chekc
run 3 check nothing.json
warns "neither a file nor a study in the book"
run 3 check nothing.json --json
says '"verb": "check"'
says '"severity": "refused"'
run 2 fit --json
says '"format": 1'
run 2 fit
run 2 rig
run 2 rig shwo x
warns 'did you mean "show"?'
run 5 book list
run 0 help words
for term in glue-up onset in-order after-all-others AICc "lack of fit"; do says "$term"; done

# a closed standard output is an error, not a success
"$platen" --help >/dev/full 2>err
[ $? -eq 5 ] || fail "a full output device: exit was not 5"
finish
