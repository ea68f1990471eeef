# What take does with a record, by R: the peak and its time. For tests/bench-ingest.sh.
d <- read.csv(commandArgs(TRUE)[1])
i <- which.max(d[[2]])
cat(d[[2]][i], d[[1]][i], "\n")
