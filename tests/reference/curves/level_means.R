# Level means averaged over boards, and the critical points of the contrasts, for
# tests/fit/test_contrast.c. Run in this folder with R 4.2: Rscript level_means.R > level_means.json
# Points by Monte Carlo with 4e6 draws: good to about 0.002.
d <- read.csv("set_as-made.csv")
d$l <- factor(d$planned)
d$b <- factor(d$board)
m <- lm(strength ~ l - 1 + b, d, contrasts = list(b = "contr.sum"))
K <- nlevels(d$l)
s <- summary(m)
num <- function(x) paste(format(x, digits = 15), collapse = ", ")
V <- s$cov.unscaled[1:K, 1:K]
C <- NULL
for (i in 1:(K - 1)) for (j in (i + 1):K) {
  c <- numeric(K); c[1:i] <- -1 / i; c[(i + 1):j] <- 1 / (j - i); C <- rbind(C, c)
}
F <- C[, K:1] # mirrored: upper run less everything above it
L <- t(chol(V))
point <- function(C, two) {
  A <- C %*% L
  A <- A / sqrt(rowSums(A^2))
  set.seed(77)
  t <- numeric()
  for (r in 1:40) {
    Z <- matrix(rnorm(1e5 * K), K)
    T <- (A %*% Z) / matrix(sqrt(rchisq(1e5, m$df.residual) / m$df.residual), nrow(A), 1e5, byrow = TRUE)
    if (two) T <- abs(T)
    t <- c(t, do.call(pmax, asplit(T, 1)))
  }
  unname(quantile(t, if (two) 0.95 else 0.975))
}
b <- coef(m)[1:K]
best <- function(C) {
  t <- (C %*% b) / (s$sigma * sqrt(rowSums((C %*% V) * C)))
  c(max(t), (C %*% b)[which.max(t)])
}
rise <- best(C); fall <- best(F)
cat('{"source": "level_means.R beside this file, R ', R.version$major, '.', R.version$minor,
    '; data: set_as-made.csv",\n "mean": [', num(b), '],\n "se": [', num(s$coefficients[1:K, 2]),
    '],\n "df": ', m$df.residual, ', "sd": ', num(s$sigma), ',\n "rise_t": ', num(rise[1]),
    ', "rise_size": ', num(rise[2]), ', "fall_t": ', num(fall[1]), ', "fall_size": ', num(fall[2]),
    ',\n "rise_point": ', num(point(C, FALSE)), ', "fall_point": ', num(point(F, FALSE)),
    ',\n "two_sided_point": ', num(point(rbind(C, F), TRUE)), '}\n', sep = "")
