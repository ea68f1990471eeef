# Curves with a free floor and board effects by R's nls, for tests/fit/test_curve_reference.c.
# Run in this folder with R 4.2: Rscript nls.R > nls.json
# Board effects are coded sum-to-zero, so floor and top are averages over boards.
d <- read.csv("set_boards.csv")
B <- contr.sum(4)[as.integer(factor(d$board)), ]
d$b1 <- B[, 1]; d$b2 <- B[, 2]; d$b3 <- B[, 3]
d$u <- log(d$applied / min(d$applied))
cases <- list(
  list(name = "saturating-exponential", log = FALSE, shape = "rate",
       f = strength ~ floor + (top - floor) * (1 - exp(-rate * applied)) + g1 * b1 + g2 * b2 + g3 * b3,
       start = list(floor = 5, top = 11, rate = 2)),
  list(name = "saturating-exponential", log = TRUE, shape = "rate",
       f = strength ~ floor + (top - floor) * (1 - exp(-rate * u)) + g1 * b1 + g2 * b2 + g3 * b3,
       start = list(floor = 6, top = 12, rate = 0.7)),
  list(name = "saturating-hyperbola", log = FALSE, shape = "half",
       f = strength ~ floor + (top - floor) * applied / (half + applied) + g1 * b1 + g2 * b2 + g3 * b3,
       start = list(floor = 3, top = 12, half = 0.4)),
  list(name = "quadratic-plateau", log = FALSE, shape = "knee",
       f = strength ~ top - (top - floor) * pmax(0, 1 - applied / knee)^2 + g1 * b1 + g2 * b2 + g3 * b3,
       start = list(floor = 5, top = 11, knee = 1.5)),
  list(name = "line", log = TRUE, shape = NA,
       f = strength ~ intercept + slope * u + g1 * b1 + g2 * b2 + g3 * b3,
       start = list(intercept = 6, slope = 2)))
num <- function(x) format(x, digits = 15)
out <- character()
for (k in cases) {
  m <- nls(k$f, d, start = c(k$start, list(g1 = 0, g2 = 0, g3 = 0)),
           control = nls.control(tol = 1e-7, minFactor = 1e-12, maxiter = 500, scaleOffset = 0))
  s <- summary(m)$coefficients
  p <- sapply(names(k$start), function(n)
    sprintf('{"name": "%s", "estimate": %s, "se": %s}', n, num(s[n, 1]), num(s[n, 2])))
  n <- nrow(d); K <- nrow(s) + 1
  out <- c(out, sprintf(
    '  {"curve": "%s", "log_x": %s, "ss": %s, "df": %d, "aicc": %s,\n   "parameters": [%s]}',
    k$name, tolower(k$log), num(deviance(m)), df.residual(m),
    num(AIC(m) + 2 * K * (K + 1) / (n - K - 1)), paste(p, collapse = ",\n     ")))
}
cat('{"source": "nls.R beside this file, R ', R.version$major, '.', R.version$minor,
    '; data: set_boards.csv",\n "cases": [\n', paste(out, collapse = ",\n"), '\n ]}\n', sep = "")
