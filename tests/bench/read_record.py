# What take does with a record, by pandas: the peak and its time. For tests/bench-ingest.sh.
import sys

import pandas

d = pandas.read_csv(sys.argv[1])
force = d["force [N]"].to_numpy()
i = force.argmax()
print(force[i], d["time [s]"].to_numpy()[i])
