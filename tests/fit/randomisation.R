# Figures of test_uneven in tests/fit/test_randomise.c, by GNU R: the sum of squares of levels after
# blocks, from a model fit, and the share of all arrangements within blocks that give no less.
y <- c(9.1, 9.7, 10.5, 8.2, 10.2, 7.6, 9.8, 9.4, 8.8, 10.3, 9.9, 9.9,
       9.9, 9.4, 10.7, 8.9, 9.5, 9.7, 9.0, 9.6)
level <- c(0, 1, 2, 0, 1, 3, 2, 1, 0, 3, 1, 0, 2, 0, 3, 0, 1, 2, 0, 3)
block <- c(0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5, 5)
print(anova(lm(y ~ factor(block) + factor(level)))["factor(level)", "Sum Sq"], digits = 16)
M <- diag(length(y)) - outer(block, block, function(a, b) (a == b) / table(block)[as.character(a)])
X <- outer(level, 1:3, "==") + 0
inverse <- solve(t(X) %*% M %*% X) # blocks keep their levels, so this does not change
r <- as.vector(M %*% y)
orders <- function(v) {
    if (length(v) < 2) return(matrix(v, 1))
    do.call(rbind, lapply(unique(v), function(u) cbind(u, orders(v[-match(u, v)]))))
}
totals <- matrix(0, 1, 3)
for (g in split(seq_along(y), block)) {
    o <- orders(level[g])
    here <- sapply(1:3, function(l) (o == l) %*% r[g])
    totals <- do.call(rbind, lapply(seq_len(nrow(here)), function(i) sweep(totals, 2, here[i, ], "+")))
}
ss <- rowSums((totals %*% inverse) * totals)
made <- sum((t(X) %*% r) * (inverse %*% t(X) %*% r))
print(made, digits = 16)
cat(sum(ss >= made * (1 - 1e-10)), "of", length(ss), "\n")
