# Recomputes linear_boards.json and linear_uneven.json with R (base packages only).
# Run in this folder: Rscript linear_cases.R
# The two data sets are invented for these checks; they describe no real joints.
# Sums of squares "after all others": drop1 on sum-to-zero contrasts, every term in turn.
# Level means: predictions over the full grid of the other factors and blocks, covariates at
# their mean, averaged with equal weights; standard errors from the same linear combination.
options(contrasts = c("contr.sum", "contr.sum"), digits = 17)

num <- function(x) sprintf("%.15g", x)
pairs <- function(names, values)
  paste0("{", paste0("\"", names, "\": ", values, collapse = ", "), "}")
rows <- function(x) paste0("[\n  ", paste0(x, collapse = ",\n  "), "\n ]")

head_of <- function(what) paste0(
  "{\n \"source\": \"invented data, made for these checks\",\n \"computed_with\": \"R ",
  getRversion(), ", linear_cases.R beside this file\",\n \"what\": \"", what, "\"")

# ---- boards inside species, pressures on every board ----
d <- read.csv("linear_boards.csv", colClasses = c("factor", "factor", "factor", "numeric"))
d$piece <- interaction(d$species, d$board, drop = TRUE)
a <- summary(aov(strength ~ species * pressure + Error(piece), d))
between <- a[["Error: piece"]][[1]]; within <- a[["Error: Within"]][[1]]
line <- function(term, table, row, error)
  pairs(c("term", "df", "ss", "f", "p", "error_df", "error_ms"),
        c(paste0("\"", term, "\""), num(table[row, 1]), num(table[row, 2]), num(table[row, 4]),
          num(table[row, 5]), num(table[error, 1]), num(table[error, 3])))
m <- aggregate(strength ~ species, aggregate(strength ~ species + piece, d, mean), mean)
se <- sqrt(between[2, 3] / (nrow(d) / 2))
mp <- aggregate(strength ~ pressure, d, mean)
sp <- sqrt(within[3, 3] / (nrow(d) / nlevels(d$pressure)))
writeLines(paste0(head_of("species judged between boards, pressure within them"),
  ",\n \"terms\": ", rows(c(line("species", between, 1, 2), line("pressure", within, 1, 3),
                           line("species, pressure", within, 2, 3))),
  ",\n \"board\": ", pairs(c("df", "ss"), num(c(between[2, 1], between[2, 2]))),
  ",\n \"residual\": ", pairs(c("df", "ss"), num(c(within[3, 1], within[3, 2]))),
  ",\n \"species\": ", rows(sapply(1:2, function(i)
    pairs(c("mean", "se"), num(c(m[i, 2], se))))),
  ",\n \"pressure\": ", rows(sapply(seq_len(nrow(mp)), function(i)
    pairs(c("mean", "se"), num(c(mp[i, 2], sp))))), "\n}"), "linear_boards.json")

# ---- unbalanced: two crossed block factors, interaction, covariate ----
u <- read.csv("linear_uneven.csv", colClasses = c(rep("factor", 4), "numeric", "numeric"))
fit <- lm(strength ~ session + press + thickness + wood * glue, u)
seq1 <- anova(fit); all3 <- drop1(fit, . ~ ., test = "F")
term <- function(name, r) pairs(
  c("term", "df", "in_order", "after", "f", "p"),
  c(paste0("\"", name, "\""), num(seq1[r, 1]), num(seq1[r, 2]), num(all3[r, 2]),
    num(all3[r, 5]), num(all3[r, 6])))
mean_of <- function(by, level) {
  g <- expand.grid(session = levels(u$session), press = levels(u$press), wood = levels(u$wood),
                   glue = levels(u$glue), thickness = mean(u$thickness))
  X <- model.matrix(delete.response(terms(fit)), g[g[[by]] == level, ], contrasts.arg = NULL)
  h <- colMeans(X)
  pairs(c("mean", "se"), num(c(sum(h * coef(fit)), sqrt(h %*% vcov(fit) %*% h))))
}
s <- summary(fit); co <- s$coefficients
coef_of <- function(name, r) pairs(c("name", "estimate", "se"),
  c(paste0("\"", name, "\""), num(co[r, 1]), num(co[r, 2])))
writeLines(paste0(head_of("unbalanced, sessions and presses as fixed blocks"),
  ",\n \"terms\": ", rows(c(term("session", "session"), term("press", "press"),
    term("thickness", "thickness"), term("wood", "wood"), term("glue", "glue"),
    term("wood, glue", "wood:glue"))),
  ",\n \"coefficients\": ", rows(c(coef_of("intercept", "(Intercept)"),
    coef_of("thickness", "thickness"), coef_of("wood=ash", "wood1"), coef_of("wood=beech", "wood2"),
    coef_of("glue=hide", "glue1"), coef_of("wood=ash, glue=hide", "wood1:glue1"))),
  ",\n \"wood\": ", rows(sapply(levels(u$wood), function(l) mean_of("wood", l))),
  ",\n \"glue\": ", rows(sapply(levels(u$glue), function(l) mean_of("glue", l))),
  ",\n \"residual\": ", pairs(c("df", "ss", "sd"), num(c(fit$df.residual, deviance(fit), s$sigma))),
  ",\n \"r_squared\": ", num(s$r.squared), "\n}"), "linear_uneven.json")
