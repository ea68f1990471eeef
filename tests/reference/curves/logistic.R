# logistic-rise in log x with a level at zero, by R's nls, for tests/fit/test_curve_reference.c.
# Run in this folder with R 4.2: Rscript logistic.R > logistic.json
# set_logistic.csv is invented: 4 + 7.5 / (1 + (0.6 / p)^(1 / 0.45)) N/mm2 and scatter.
d <- read.csv("set_logistic.csv")
g <- function(x, mid, width) ifelse(x > 0, 1 / (1 + (mid / pmax(x, 1e-300))^(1 / width)), 0)
m <- nls(strength ~ floor + (top - floor) * g(applied, mid, width), d,
         start = list(floor = 4, top = 11, mid = 0.6, width = 0.4),
         control = nls.control(tol = 1e-7, minFactor = 1e-12, maxiter = 500, scaleOffset = 0))
s <- summary(m)$coefficients
num <- function(x) format(x, digits = 15)
n <- nrow(d); K <- 5
# the onset: 95 % of the mean at the highest level
f <- function(x) predict(m, data.frame(applied = x))
onset <- uniroot(function(x) f(x) - 0.95 * f(3), c(0.1, 3), tol = 1e-14)$root
# held: least deviance with m(t) = 0.95 m(3) at t, floor eliminated from the condition
held <- function(t) {
  ss <- function(p) {
    a <- g(t, p[2], p[3]); b <- g(3, p[2], p[3])
    # floor (1 - a) + top a = 0.95 (floor (1 - b) + top b)
    floor <- p[1] * (0.95 * b - a) / (1 - a - 0.95 * (1 - b))
    sum((d$strength - floor - (p[1] - floor) * g(d$applied, p[2], p[3]))^2)
  }
  best <- Inf
  for (mid in c(0.3, 0.6, 1.2)) for (w in c(0.1, 0.3, 0.6)) {
    o <- optim(c(11, mid, w), ss, control = list(reltol = 1e-15, maxit = 5000))
    o <- optim(o$par, ss, control = list(reltol = 1e-15, maxit = 5000))
    best <- min(best, o$value)
  }
  best
}
p <- sapply(rownames(s), function(k)
  sprintf('{"name": "%s", "estimate": %s, "se": %s}', k, num(s[k, 1]), num(s[k, 2])))
cat('{"source": "logistic.R beside this file, R ', R.version$major, '.', R.version$minor,
    '; data: set_logistic.csv (invented)",\n "ss": ', num(deviance(m)), ', "df": ', df.residual(m),
    ', "aicc": ', num(AIC(m) + 2 * K * (K + 1) / (n - K - 1)), ', "onset": ', num(onset),
    ',\n "parameters": [', paste(p, collapse = ",\n  "), '],\n "held": [',
    paste(sprintf('{"at": %s, "ss": %s}', num(onset * c(0.7, 0.9, 1.2)),
                  num(sapply(onset * c(0.7, 0.9, 1.2), held))), collapse = ", "), ']}\n', sep = "")
