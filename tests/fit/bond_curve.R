# Outside values of tests/fit/test_bond_curve.c: curves of a glue line with wood breaks as lower
# bounds, two boards, by optim and nlm over every number at once, and the likelihood with the onset
# held. Invented readings. Run: Rscript tests/fit/bond_curve.R
options(digits = 14)
d <- read.csv(text = "x,board,y,wood
0.2,a,4.1,0
0.2,b,3.6,0
0.2,a,4.6,0
0.4,b,5.9,0
0.4,a,6.3,0
0.4,b,5.5,0
0.8,a,8.3,0
0.8,b,7.4,1
0.8,a,7.9,0
0.8,b,7.2,0
1.6,a,9.2,1
1.6,b,8.1,0
1.6,a,9.0,0
1.6,b,8.7,1
2.4,a,9.4,0
2.4,b,8.4,1
2.4,a,9.7,1
2.4,b,8.6,0
")
board <- (d$board == "a") - (d$board == "b")
loglik <- function(mean, s) sum(ifelse(d$wood == 1, pnorm(d$y, mean, s, lower.tail = FALSE, log.p = TRUE),
                                       dnorm(d$y, mean, s, log = TRUE)))
curves <- list(exponential = function(x, s) 1 - exp(-exp(s) * x),
               hyperbola = function(x, s) x / (x + exp(s)),
               plateau = function(x, s) pmin(x / exp(s), 1))
best <- function(f, start) { # the least of f from several starts, polished
    tops <- lapply(seq(-1.5, 1.5, length.out = 61), function(s0) {
        o <- try(optim(c(start, s0), f, method = "Nelder-Mead", control = list(reltol = 1e-15, maxit = 20000)), TRUE)
        if (inherits(o, "try-error")) return(list(value = Inf))
        for (k in 1:5) o <- optim(o$par, f, method = "Nelder-Mead", control = list(reltol = 1e-16, maxit = 20000))
        o
    })
    tops[[which.min(sapply(tops, function(o) o$value))]]
}
for (name in names(curves)) {
    g <- curves[[name]]
    f <- function(p) { v <- -loglik(p[1] + (p[2] - p[1]) * g(d$x, p[5]) + p[3] * board, exp(p[4])); if (is.finite(v)) v else 1e10 }
    o <- best(f, c(3, 9, 0.3, -0.5))
    cat(name, "floor", o$par[1], "top", o$par[2], "shape", exp(o$par[5]), "sigma", exp(o$par[4]), "loglik", -o$value, "\n")
    for (t in c(0.9, 1.5)) { # floor such that the mean at t is 0.95 of that at 2.4
        h <- function(p) {
            # floor a + top b = 0
            a <- (1 - g(t, p[4])) - 0.95 * (1 - g(2.4, p[4])); b <- g(t, p[4]) - 0.95 * g(2.4, p[4])
            floor <- -p[1] * b / a
            v <- -loglik(floor + (p[1] - floor) * g(d$x, p[4]) + p[2] * board, exp(p[3]))
            if (is.finite(v) && p[1] > 0 && p[1] > floor && p[4] > -14) v else 1e10 # below, rounding
        }
        o2 <- best(h, c(9, 0.3, -0.5))
        cat("   onset at", t, "loglik", -o2$value, "\n")
    }
}
# the same for log strength: a lognormal law, the exponential curve, the onset ln(0.95) below the top
ll <- function(mean, s) sum(ifelse(d$wood == 1, pnorm(log(d$y), mean, s, lower.tail = FALSE, log.p = TRUE),
                                   dnorm(log(d$y), mean, s, log = TRUE) - log(d$y)))
g <- curves$exponential
o <- best(function(p) { v <- -ll(p[1] + (p[2] - p[1]) * g(d$x, p[5]) + p[3] * board, exp(p[4])); if (is.finite(v)) v else 1e10 },
          c(0, 2.2, 0, -2))
cat("lognormal floor", o$par[1], "top", o$par[2], "shape", exp(o$par[5]), "sigma", exp(o$par[4]), "loglik", -o$value, "\n")
h <- best(function(p) {
    rise <- -log(0.95) / (g(2.4, p[4]) - g(0.9, p[4]))
    v <- -ll(p[1] + rise * g(d$x, p[4]) + p[2] * board, exp(p[3])); if (is.finite(v)) v else 1e10 }, c(1, 0, -2))
cat("   onset at 0.9 loglik", -h$value, "\n")
