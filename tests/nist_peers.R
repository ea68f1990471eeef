# What GNU R makes of the certified sets: nist_peers.R FOLDER-OF-SETS OUT. One JSON a set and start,
# in the shape that build/digits reads: {"p": [{"e":, "s":}], "r": {"ss":, "sd":}, "f":}.
# nls: the tightest tolerance of 1e-12, 1e-10, 1e-8, 1e-5 at which it ends.
at <- commandArgs(TRUE)
number <- function(x) ifelse(is.finite(x), sprintf("%.17g", x), "null")
put <- function(name, e = NULL, s = NULL, ss = NaN, sd = NaN, f = NaN) {
  p <- if (length(e)) paste0('{"e":', number(e), ',"s":', number(s), "}", collapse = ",") else ""
  cat(sprintf('{"p":[%s],"r":{"ss":%s,"sd":%s},"f":%s}\n', p, number(ss), number(sd), number(f)),
      file = file.path(at[2], paste0(name, ".json")))
}
rows <- function(set) read.csv(file.path(at[1], paste0(set, ".csv")))

for (set in c("NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4", "Michelso")) {
  y <- rows(set)$y
  put(set, mean(y), NaN, NaN, sd(y))
}
for (set in c("Norris", "Pontius", "Longley", "Wampler1", "Wampler2", "Wampler3")) {
  d <- rows(set)
  model <- switch(set, Norris = y ~ x, Pontius = y ~ x + I(x^2), Longley = y ~ .,
                  y ~ x + I(x^2) + I(x^3) + I(x^4) + I(x^5))
  s <- suppressWarnings(summary(lm(model, d)))
  k <- s$coefficients
  if (nrow(k) == length(attr(terms(model, data = d), "term.labels")) + 1)
    put(set, k[, 1], k[, 2], sum(s$residuals^2), s$sigma)
}
for (set in c("AtmWtAg", "SiRstv", "SmLs01", "SmLs04", "SmLs07")) {
  d <- rows(set)
  group <- factor(d[[setdiff(names(d), "y")[1]]])
  put(set, f = suppressWarnings(anova(lm(d$y ~ group)))[["F value"]][1])
}
curves <- list(
  Misra1a = list(y ~ b1 * (1 - exp(-b2 * x)), c(500, 1e-4), c(250, 5e-4)),
  BoxBOD = list(y ~ b1 * (1 - exp(-b2 * x)), c(1, 1), c(100, 0.75)),
  DanWood = list(y ~ b1 * x^b2, c(1, 5), c(0.7, 4)),
  Rat42 = list(y ~ b1 / (1 + exp(b2 - b3 * x)), c(100, 1, 0.1), c(75, 2.5, 0.07)),
  Chwirut2 = list(y ~ exp(-b1 * x) / (b2 + b3 * x), c(0.1, 0.01, 0.02), c(0.15, 0.008, 0.01)),
  MGH17 = list(y ~ b1 + b2 * exp(-x * b4) + b3 * exp(-x * b5),
               c(50, 150, -100, 1, 2), c(0.5, 1.5, -1, 0.01, 0.02)))
for (set in names(curves)) for (which in 0:2) {
  d <- rows(set)
  n <- length(curves[[set]][[2]])
  start <- if (which) curves[[set]][[which + 1]] else rep(1, n) # nls begins at 1 without a start
  names(start) <- paste0("b", seq_len(n))
  for (tol in c(1e-12, 1e-10, 1e-8, 1e-5)) {
    fit <- try(nls(curves[[set]][[1]], d, start = as.list(start),
                   control = nls.control(maxiter = 1000, tol = tol)), silent = TRUE)
    if (!inherits(fit, "try-error")) {
      k <- summary(fit)$coefficients
      put(paste0(set, "-", which), k[, 1], k[, 2], deviance(fit), sigma(fit))
      break
    }
  }
}
cat(sprintf("R %s.%s", R.version$major, R.version$minor), file = file.path(at[2], "version"))
