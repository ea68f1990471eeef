# Curves with random boards, and with scatter in proportion to the mean: the figures of
# tests/fit/test_curve_scatter.c. Readings are invented (set_uneven-boards.csv). Run in this folder.
# Needs nlme; R 4.2.2 was used.
library(nlme)
options(digits = 15)
d <- read.csv("set_uneven-boards.csv")
d$board <- factor(d$board, levels = unique(d$board))
n <- nrow(d)

# largest likelihood: a board's deviation is added to the whole curve
f <- nlme(strength ~ floor + (top - floor) * (1 - exp(-rate * pressure)) + b,
          fixed = floor + top + rate ~ 1, random = b ~ 1 | board, data = d, method = "ML",
          start = c(floor = 4.7, top = 11.2, rate = 3),
          control = nlmeControl(tolerance = 1e-12, pnlsTol = 1e-12, msTol = 1e-14,
                                returnObject = TRUE))
k <- fixef(f)[["rate"]]
K <- 3 + 2
cat("rate by ML", k, "AICc", -2 * c(logLik(f)) + 2 * K + 2 * K * (K + 1) / (n - K - 1), "\n")
# restricted likelihood at that rate, one column a fitted number
g <- 1 - exp(-k * d$pressure)
slope <- (fixef(f)[["top"]] - fixef(f)[["floor"]]) * d$pressure * exp(-k * d$pressure)
r <- lme(strength ~ 0 + J1 + J2 + J3, random = ~ 1 | board, method = "REML",
         data = transform(d, J1 = 1 - g, J2 = g, J3 = slope),
         control = lmeControl(tolerance = 1e-12, msTol = 1e-14))
s <- as.numeric(VarCorr(r)[, "StdDev"])
cat("sd of boards, residual", s, "\n")
Z <- model.matrix(~ 0 + board, d)
Vi <- solve(diag(n) + (s[1] / s[2])^2 * Z %*% t(Z))
X <- cbind(1 - g, g)
b <- solve(t(X) %*% Vi %*% X, t(X) %*% Vi %*% d$strength)
J <- cbind(X, (b[2] - b[1]) * d$pressure * exp(-k * d$pressure))
cat("floor, top", b, "standard errors", s[2] * sqrt(diag(solve(t(J) %*% Vi %*% J))), "\n")

# scatter in proportion, boards fixed (sum to zero): weights (G / fitted)^2 until they stand
B <- model.matrix(~ board, d, contrasts.arg = list(board = "contr.sum"))[, -1]
G <- mean(d$strength)
fit <- function(w) {
  X <- function(k) { g <- 1 - exp(-k * d$pressure); cbind(1 - g, g, B) }
  ss <- function(lk) { m <- lm.wfit(X(exp(lk)), d$strength, w); sum(w * m$residuals^2) }
  lk <- optimize(ss, c(-2, 4), tol = 1e-15)$minimum
  for (i in 1:20) { # Newton on five points
    h <- 1e-3
    s <- sapply(lk + c(-2, -1, 0, 1, 2) * h, ss)
    lk <- lk - (s[1] - 8 * s[2] + 8 * s[4] - s[5]) / (12 * h) /
      ((-s[1] + 16 * s[2] - 30 * s[3] + 16 * s[4] - s[5]) / (12 * h^2))
  }
  m <- lm.wfit(X(exp(lk)), d$strength, w)
  list(k = exp(lk), b = coef(m), f = d$strength - m$residuals, ss = sum(w * m$residuals^2))
}
w <- rep(1, n)
for (i in 1:60) { m <- fit(w); w <- (G / m$f)^2 }
m <- fit(w)
p <- ncol(B) + 3
g <- 1 - exp(-m$k * d$pressure)
J <- cbind(1 - g, g, (m$b[2] - m$b[1]) * d$pressure * exp(-m$k * d$pressure), B)
s2 <- m$ss / (n - p)
K <- p + 1
cat("in proportion: floor, top, rate", m$b[1:2], m$k, "standard errors",
    sqrt(s2 * diag(solve(t(J) %*% (w * J))))[1:3], "sd", sqrt(s2), "at", G, "AICc",
    n * (log(2 * pi) + 1 + log(m$ss / n)) - sum(log(w)) + 2 * K + 2 * K * (K + 1) / (n - K - 1),
    "\n")
