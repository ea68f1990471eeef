# Shares of drawn studies that notice a difference, for tests/size/test_drawn.c: 4 levels of 6, the
# first two 0.6 apart, the others midway (mean 1), scatter 25 % of each level's own mean.
# usage: Rscript drawn.R; R 4.2.2
set.seed(1)
k <- 4; n <- 6; N <- 1e6; chunk <- 50000
mu <- c(1.3, 0.7, 1, 1); cv <- 0.25
f <- function(b) sqrt(gamma(1 + 2 / b) / gamma(1 + 1 / b)^2 - 1) - cv
shape <- uniroot(f, c(1, 20), tol = 1e-13)$root
study <- function(name, deviate, blocks) {
  df <- if (blocks) (k - 1) * (n - 1) else k * (n - 1)
  seen <- c(0, 0)
  for (i in seq_len(N / chunk)) {
    y <- array(deviate(k * n * chunk), c(k, n, chunk)) * cv * mu + mu
    m <- apply(y, c(1, 3), sum) / n
    ss <- colSums(y^2, dims = 2)
    all <- colSums(m)^2 * n / k
    error <- ss - n * colSums(m^2)
    if (blocks) error <- error - (colSums(colSums(y)^2) / k - all)
    between <- n * colSums(m^2) - all
    seen[1] <- seen[1] + sum(between / (k - 1) > qf(0.95, k - 1, df) * error / df)
    seen[2] <- seen[2] + sum(n / 2 * (m[1, ] - m[2, ])^2 > qf(0.95, 1, df) * error / df)
  }
  cat(name, format(seen / N, digits = 7), "\n")
}
study("in proportion", rnorm, FALSE)
study("in proportion, blocks", rnorm, TRUE)
chain <- function(m) ((rweibull(m, shape) / gamma(1 + 1 / shape)) - 1) / cv
study("weakest link", chain, FALSE)
