# Studies of 8 levels (3 to 12 of each) drawn and fitted by a loop of nls, processor time: fits a
# second of a saturating exponential, then of a linear plateau in log x. usage: Rscript fits.R
cpu <- function() sum(proc.time()[1:2])
x <- c(0.2, 0.4, 0.6, 0.8, 1, 1.4, 1.8, 2.5)
g <- rep(1:8, c(3, 4, 5, 6, 7, 8, 10, 12))
u <- log(x)[g]
x <- x[g]
rate <- function(f, many) {
  best <- Inf
  for (i in 1:3) {
    from <- cpu()
    for (j in seq_len(many)) try(f(), silent = TRUE)
    best <- min(best, cpu() - from)
  }
  cat(many / best, "")
}
set.seed(3)
rise <- 10 * (1 - exp(-2.2 * x))
knee <- 10 + 5 * pmin(u - log(1.1), 0)
rate(function() {
  y <- rnorm(length(x), rise)
  nls(y ~ top * (1 - exp(-k * x)), start = list(top = 10, k = 2))
}, 400)
rate(function() {
  y <- rnorm(length(x), knee)
  nls(y ~ top + b * pmin(u - c, 0), start = list(top = 10, b = 5, c = 0.1))
}, 300)
cat("\n")
