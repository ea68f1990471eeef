#!/usr/bin/python3
"""The demo's table put together by hand from its forms, for tests/cli/test_study.sh.

Run in the demo's folder after `make demo`, with the plan as JSON:
    platen plan stair-lap.json --look --json --seed 20260302 > plan.json
    python3 join.py > stair-lap.csv
Nothing here is shared with core. A dial's pressure times the cylinder's area (63 mm), less
5 % friction, over the pressed area (40 x 30 mm); weights as planned; each joint's own sizes.
The peaks of the four recorded pulls are those in the book (max less the zero before loading).
INVENTED DATA: the readings come from tests/demo/invent.c, seed 7."""
import csv
import json
import math
import sys

PULLS = {"MD4J": 7775.45142857143, "RR5J": 9168.20588235294,
         "S2CQ": 13662.2294117647, "ZKTF": 9271.74705882353}
AREA = math.pi / 4 * 0.063 ** 2


def form(name, key):
    with open("filled/" + name, newline="") as f:
        return {key(r): r for r in csv.DictReader(f)}


glue_ups = form("glue-ups.csv", lambda r: r["glue_up"])
breaks = form("breaks.csv", lambda r: r["specimen"])
sessions = form("sessions.csv", lambda r: (r["session"], r["rig"]))
out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow("specimen strength pressure made species board".split())
for s in json.load(open("plan.json"))["specimens"]:
    if s["spare"] or breaks[s["id"]]["mode"] in ("handling", "fixture"):
        continue
    g, b = glue_ups[s["glue_up"]], breaks[s["id"]]
    rig = g["rig"] or s["rig"]
    dial = [float(g[k]) for k in ("dial_at_start [bar]", "dial_at_end [bar]") if g[k]]
    if dial:
        zero = float(sessions[str(s["session"]), rig]["dial_no_load [bar]"] or 0)
        made = (sum(dial) / len(dial) - zero) * 1e5 * AREA * 0.95 / 1.2e-3 / 1e6
    else:
        made = s["set_point"]["gives"] / 1e6
    peak = float(b["peak [kN]"]) * 1e3 if b["peak [kN]"] else PULLS[s["id"]]
    area = float(b["width [mm]"] or 40) * float(b["overlap [mm]"] or 30)
    out.writerow([s["id"], repr(peak / area), s["treatment"]["pressure"]["value"], repr(made),
                  s["treatment"]["species"], s["blocks"]["board"]])
