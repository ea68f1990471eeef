# The demo's figures recomputed from stair-lap.csv (join.py), for tests/cli/test_study.sh.
# Run: Rscript study.R > stair-lap.json (R 4.2.2, base packages). Points of the largest
# contrast by 4e6 simulated draws, seed 1: three digits. Onsets: onset.py.
options(digits = 17)
d <- read.csv("stair-lap.csv")
d$f <- factor(d$pressure)
num <- function(x) paste0("[", paste(format(x, digits = 16, trim = TRUE), collapse = ", "), "]")
one <- function(x) format(x, digits = 16)
# in order: species, boards within species, pressure, species x pressure; species against boards
a <- anova(lm(strength ~ species + factor(board) + f + f:species, d))
ss <- a[["Sum Sq"]]; df <- a[["Df"]]; ms <- ss / df
F <- c(ms[1] / ms[2], ms[2] / ms[5], ms[3] / ms[5], ms[4] / ms[5])
# after all others: sum-to-zero columns, boards inside species; species without the boards, which
# hold it constant, and against what boards add to all the rest
X <- model.matrix(~ species * f, d, contrasts.arg = list(species = "contr.sum", f = "contr.sum"))
B <- NULL
for (s in c("beech", "larch")) {
  k <- factor(d$board[d$species == s]); M <- matrix(0, nrow(d), nlevels(k) - 1)
  M[d$species == s, ] <- contr.sum(nlevels(k))[k, ]; B <- cbind(B, M)
}
rss <- function(Z) sum(lm.fit(Z, d$strength)$residuals^2)
part <- attr(X, "assign"); r <- rss(cbind(X, B)); e <- r / (nrow(d) - ncol(X) - ncol(B))
after <- c(rss(X[, part != 1]) - rss(X), rss(X) - r, rss(cbind(X[, part != 2], B)) - r,
           rss(cbind(X[, part != 3], B)) - r)
Fa <- after / c(1, 10, 5, 5) / c(after[2] / 10, e, e, e)
cat('{"source": "study.R beside this file; INVENTED DATA of the demo",\n "in_order": {"ss": ', num(ss),
    ', "f": ', num(F), '},\n "after": {"ss": ', num(after), ', "f": ', num(Fa), '},\n "groups": [\n', sep = "")
set.seed(1)
for (s in c("beech", "larch")) {
  g <- d[d$species == s, ]; n <- nrow(g); B <- contr.sum(6)[factor(g$board), ]
  L <- sapply(sort(unique(g$pressure)), function(p) as.numeric(g$pressure == p))
  m <- lm.fit(cbind(L, B), g$strength); df <- n - 11; s2 <- sum(m$residuals^2) / df
  V <- solve(crossprod(cbind(L, B)))[1:6, 1:6]; mu <- m$coefficients[1:6]
  contrasts <- function(rise) {
    C <- NULL
    for (j in 1:5) for (i in 1:6) {
      c <- rep(0, 6)
      if (rise && i <= 6 && j < i) { c[(j + 1):i] <- 1 / (i - j); c[1:j] <- -1 / j; C <- rbind(C, c) }
      if (!rise && i <= j) { c[i:j] <- 1 / (j - i + 1); c[(j + 1):6] <- -1 / (6 - j); C <- rbind(C, c) }
    }
    size <- drop(C %*% mu); se <- sqrt(s2 * diag(C %*% V %*% t(C))); k <- which.max(size / se)
    R <- cov2cor(C %*% V %*% t(C)); v <- eigen(R, symmetric = TRUE); w <- v$values > 1e-10
    A <- v$vectors[, w] %*% diag(sqrt(v$values[w])); top <- NULL
    for (b in 1:40) {
      z <- A %*% matrix(rnorm(sum(w) * 1e5), sum(w))
      top <- c(top, do.call(pmax, lapply(seq_len(nrow(z)), function(i) z[i, ])) / sqrt(rchisq(1e5, df) / df))
    }
    d <- unname(quantile(top, 0.975))
    paste0('{"difference": ', one(size[k]), ', "se": ', one(se[k]), ', "t": ', one((size / se)[k]),
           ', "point": ', one(d), ', "excluded": ', one(max(size + d * se)), '}')
  }
  x <- g$made; u <- log(x / min(x)); p <- c(2, 2, 3, 3, 3, 3, 3, 3)
  best <- function(h, low, high) {
    f <- function(k) sum(lm.fit(cbind(1, h(exp(k)), B), g$strength)$residuals^2)
    k <- seq(log(low), log(high), length = 4000); i <- which.min(sapply(k, f))
    optimize(f, k[pmax(1, pmin(4000, i + c(-1, 1)))], tol = 1e-12)$objective
  }
  SS <- c(sum(lm.fit(cbind(1, x, B), g$strength)$residuals^2), sum(lm.fit(cbind(1, u, B), g$strength)$residuals^2),
          best(function(k) pmin(x / k, 1), .15, 2.3), best(function(k) pmin(u / k, 1), .5, 3.1),
          best(function(k) 1 - exp(-k * x), .01, 50), best(function(k) 1 - exp(-k * u), .01, 50),
          best(function(k) x / (k + x), 1e-3, 50), best(function(k) ifelse(x < k, 1 - (1 - x / k)^2, 1), .15, 20))
  K <- p + 6; aicc <- n * (log(2 * pi) + 1 + log(SS / n)) + 2 * K + 2 * K * (K + 1) / (n - K - 1)
  w <- exp(-(aicc - min(aicc)) / 2)
  cat('  {"mean": ', num(mu), ', "se": ', num(sqrt(s2 * diag(V))), ', "at": ', num(as.vector(tapply(x, g$pressure, mean))),
      ',\n   "error_df": ', df, ', "error_sd": ', one(sqrt(s2)), ',\n   "rise": ', contrasts(TRUE), ',\n   "fall": ',
      contrasts(FALSE), ',\n   "ss": ', num(SS), ',\n   "aicc": ', num(aicc), ',\n   "weight": ', num(w / sum(w)),
      '}', if (s == "beech") ",", "\n", sep = "")
}
cat(']}\n')
