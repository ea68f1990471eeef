# Simulated chance of the one-way F test, every observation drawn, in matrix code: experiments a
# second of processor time, 8 levels, 3 to 12 of each. usage: Rscript power.R
cpu <- function() sum(proc.time()[1:2])
k <- 8
mu <- c(0.5, -0.5, rep(0, 6)) * 2
chance <- function(N, n) {
  y <- matrix(rnorm(N * n * k), n)
  m <- colMeans(y)
  within <- matrix(colSums(y * y) - n * m * m, k)
  m <- matrix(m, k) + mu
  between <- n * (colSums(m * m) - k * colMeans(m)^2)
  mean(between / (k - 1) > qf(0.95, k - 1, k * (n - 1)) * colSums(within) / (k * (n - 1)))
}
best <- Inf
for (i in 1:5) {
  from <- cpu()
  for (n in 3:12) chance(20000, n)
  best <- min(best, cpu() - from)
}
cat(10 * 20000 / best, "\n")
