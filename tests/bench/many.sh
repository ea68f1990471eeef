#!/bin/sh
# A study of JOINTS joints for tests/bench.sh: eight pressures, two woods, boards of eight.
set -eu
each=$(($1 / 16)) boards=$(($1 / 16 + 16))
cat <<END
{"study": "many", "question": {"aim": "plateau", "over": "pressure", "for_each": "species"},
 "factors": [{"name": "pressure", "from": "0.1 N/mm2", "to": "1.5 N/mm2", "count": 8, "set_by": "press"},
  {"name": "species", "levels": ["beech", "larch"], "comes_with": "board"}],
 "glue_ups_per_level": $each,
 "joint": {"kind": "lap", "width": "40 mm", "overlap": "30 mm"},
 "boards": [{"species": "beech", "count": $boards, "specimens": 8},
  {"species": "larch", "count": $boards, "specimens": 8}],
 "presses": [{"name": "press", "stations": 4}],
 "times": {"clamp": "45 min", "hands_on": "6 min", "session": "8 h"}}
END
