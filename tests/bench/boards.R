# A random intercept by nlme's lme: 8 treatments on 60 boards of 4, drawn anew each time. Writes one
# set (board,treatment,y) for speed.c, prints fits a second of processor time and, of that set, the
# residual sd, the boards' and the eight means. usage: Rscript boards.R FILE.csv
suppressMessages(library(nlme))
cpu <- function() sum(proc.time()[1:2])
set.seed(7)
board <- rep(1:60, each = 4)
treatment <- as.vector(sapply(1:60, function(i) sort(sample(8, 4))))
draw <- function() 10 + 0.3 * treatment + rnorm(60)[board] + rnorm(240)
d <- data.frame(y = draw(), t = factor(treatment), b = factor(board))
write.table(data.frame(board - 1, treatment - 1, format(d$y, digits = 17)), commandArgs(TRUE)[1],
            sep = ",", row.names = FALSE, col.names = FALSE, quote = FALSE)
m <- lme(y ~ 0 + t, d, ~ 1 | b, control = lmeControl(tolerance = 1e-12, msTol = 1e-12, niterEM = 100))
best <- Inf
for (i in 1:5) {
  from <- cpu()
  for (j in 1:20) {
    d$y <- draw()
    lme(y ~ t, d, ~ 1 | b)
  }
  best <- min(best, cpu() - from)
}
cat(20 / best, format(c(m$sigma, m$sigma * sqrt(as.matrix(m$modelStruct$reStruct$b)[1]), fixef(m)),
                      digits = 15), "\n")
