# A million re-randomisations of 8 levels within 6 complete blocks, by a table of all 8! orders.
# usage: Rscript again.R FILE.csv (block, level, strength)
d <- read.csv(commandArgs(TRUE)[1])
y <- tapply(d$strength, list(d$level, d$block), sum)
y <- sweep(y, 2, colMeans(y))
made <- sum(rowSums(y)^2) * (1 - 1e-12)
orders <- function(v) {
  if (length(v) == 1) matrix(v) else
    do.call(cbind, lapply(seq_along(v), function(i) rbind(v[i], orders(v[-i]))))
}
all <- orders(1:8)
tables <- lapply(1:6, function(b) matrix(y[all, b], 8))
far <- 0
for (chunk in 1:50) {
  total <- tables[[1]][, sample.int(40320L, 20000, TRUE)]
  for (b in 2:6) total <- total + tables[[b]][, sample.int(40320L, 20000, TRUE)]
  far <- far + sum(colSums(total^2) >= made)
}
cat((1 + far) / (1 + 1e6), "\n")
