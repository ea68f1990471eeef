# Outside values of tests/fit/test_bond.c: joint, glue line and wood apart, by survreg.
# Invented readings. Run: Rscript tests/fit/bond.R
library(survival)
options(digits = 15)
d <- read.csv(text = "species,pressure,board,least,most,share
beech,low,B1,5.1,5.1,0
beech,low,B2,4.6,4.6,0.1
beech,low,B1,5.9,5.9,0.2
beech,low,B2,5.0,5.0,0
beech,mid,B1,7.4,7.4,0.3
beech,mid,B2,6.9,7.1,0.6
beech,mid,B1,8.2,8.2,0.9
beech,mid,B2,7.7,7.7,0.5
beech,high,B1,9.6,9.6,1
beech,high,B2,8.1,8.1,0.4
beech,high,B1,8.9,8.9,0.8
beech,high,B2,8.8,,
larch,low,B3,4.0,4.0,0
larch,low,B4,4.4,4.4,0.1
larch,low,B3,,0.5,
larch,low,B4,4.9,4.9,0.2
larch,mid,B3,5.9,5.9,0.3
larch,mid,B4,6.0,6.2,0.2
larch,mid,B3,6.3,6.3,0.9
larch,mid,B4,5.4,5.4,0.1
larch,high,B3,6.2,6.2,0.8
larch,high,B4,6.6,6.6,0.9
larch,high,B3,6.0,6.0,0.2
larch,high,B4,6.5,6.5,1
")
d$wood <- !is.na(d$share) & d$share >= 0.75
d$low <- d$least
d$high <- ifelse(d$wood, NA, d$most)
d$cell <- interaction(d$species, d$pressure)
d$b1 <- (d$board == "B1") - (d$board == "B2")
d$b2 <- (d$board == "B3") - (d$board == "B4")
tight <- survreg.control(rel.tolerance = 1e-15, maxiter = 200)
cells <- model.matrix(~ 0 + cell, d)
X <- cbind(cells, b1 = d$b1, b2 = d$b2)
fit <- survreg(Surv(low, high, type = "interval2") ~ 0 + X, d, dist = "gaussian", control = tight)
print(coef(fit)); print(c(sigma = fit$scale, loglik = fit$loglik[2]))
# limits of one cell: the likelihood's profile, the drop that t on n - p stands for
known <- sum(!is.na(d$low) & !is.na(d$high)); df <- known - ncol(X)
drop <- known / 2 * log1p(qt(0.975, df)^2 / df)
limit <- function(k, side) {
    held <- function(v) survreg(Surv(low, high, type = "interval2") ~ 0 + X[, -k] + offset(v * X[, k]), d,
                                dist = "gaussian", control = tight)$loglik[2]
    at <- coef(fit)[k]
    uniroot(function(v) fit$loglik[2] - held(v) - drop, at + side * c(1e-3, 3), tol = 1e-13)$root
}
k <- which(colnames(X) == "cellbeech.mid")
print(c(low = limit(k, -1), high = limit(k, 1)))
# wood: a break in the glue line is the least it held; what fell apart says nothing
w <- d[!is.na(d$least), ]
w$high <- ifelse(w$wood, w$most, NA)
wood <- survreg(Surv(least, high, type = "interval2") ~ 0 + species, w, dist = "gaussian", control = tight)
print(coef(wood)); print(wood$scale)
# glue line by other lines and laws
for (line in c(0.25, 0.5, 0.8, 1)) {
    d$high <- ifelse(!is.na(d$share) & d$share >= line, NA, d$most)
    f <- survreg(Surv(low, high, type = "interval2") ~ 0 + X, d, dist = "gaussian", control = tight)
    cat("line", line, coef(f)["Xcellbeech.mid"], f$loglik[2], "\n")
}
d$high <- ifelse(d$wood, NA, d$most)
for (law in c("lognormal", "weibull")) {
    f <- survreg(Surv(low, high, type = "interval2") ~ 0 + X, d, dist = law, control = tight)
    m <- coef(f)["Xcellbeech.mid"] + if (law == "weibull") f$scale * log(log(2)) else 0
    cat(law, exp(m), f$loglik[2], "\n")
}
