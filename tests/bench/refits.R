# 10,000 parametric bootstrap refits of one curve by a loop of nls; prints the 2.5, 50, 97.5 % points
# of the onset. usage: Rscript refits.R FILE.csv (pressure, strength)
d <- read.csv(commandArgs(TRUE)[1])
x <- d$pressure
high <- max(x)
f <- nls(y ~ top * (1 - exp(-rate * x)), list(x = x, y = d$strength), start = list(top = max(d$strength), rate = 1))
mean <- fitted(f)
sd <- sigma(f)
begin <- as.list(coef(f))
set.seed(1)
rate <- replicate(10000, {
  y <- mean + sd * rnorm(length(x))
  coef(nls(y ~ top * (1 - exp(-rate * x)), start = begin))[["rate"]]
})
print(quantile(-log(1 - 0.95 * (1 - exp(-rate * high))) / rate, c(0.025, 0.5, 0.975)))
