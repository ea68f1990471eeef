# Efficiency and degrees of freedom of a layout in boards and sessions, for
# tests/design/test_information.c. Run: Rscript layout.R (R 4.2.2, base only).
# The layout is invented: group 1 has treatments 1-5 on boards 1-6, group 2 has
# treatments 6-10 on boards 7-8; all share sessions 1-3.
ginv <- function(A) {
  e <- eigen(A, symmetric = TRUE)
  p <- e$values > 1e-9 * max(e$values)
  V <- e$vectors[, p, drop = FALSE]
  V %*% (t(V) / e$values[p])
}
ind <- function(x, k) { m <- matrix(0, length(x), k); m[cbind(seq_along(x), x)] <- 1; m }
treatment <- c(1,2,3,4, 2,3,5, 1,4,5, 1,2,5,3, 4,5, 1,3,2,4, 6,7,8,9,10, 6,7,8,9,10)
board     <- c(1,1,1,1, 2,2,2, 3,3,3, 4,4,4,4, 5,5, 6,6,6,6, 7,7,7,7,7, 8,8,8,8,8)
session   <- c(1,1,2,2, 1,2,2, 1,1,2, 2,3,3,1, 3,3, 3,1,2,3, 1,2,3,1,2, 3,1,2,3,3)
options(digits = 17)
efficiency <- function(low) {
  own <- low:(low + 4)
  X <- cbind(ind(board, 8), ind(session, 3), ind(treatment, 10)[, -own])
  T <- ind(treatment, 10)[, own]
  C <- t(T) %*% T - t(T) %*% X %*% ginv(t(X) %*% X) %*% t(X) %*% T
  values <- sort(eigen(C, symmetric = TRUE, only.values = TRUE)$values)[-1]
  cat(low, 4 / (sum(treatment == low) * sum(1 / values)), "\n")
}
efficiency(1)
efficiency(6)
cat("df", length(treatment) - qr(cbind(ind(board, 8), ind(session, 3), ind(treatment, 10)))$rank, "\n")
