# Fits by MASS::glm.nb, VGAM and lm. Input lines "kind name a b"; output lines "kind name values".
suppressMessages({library(VGAM); library(MASS)})
d <- read.table(file("stdin"), colClasses = c("character", "character", "numeric", "numeric"))
names(d) <- c("kind", "name", "a", "b")
say <- function(...) cat(..., "\n")
num <- function(v) sprintf("%.15g", v)
for (nm in unique(d$name[d$kind == "nb"])) {
  s <- d[d$kind == "nb" & d$name == nm & d$b > 0, ]
  g <- suppressWarnings(glm.nb(a ~ 1, weights = b, data = s, control = glm.control(epsilon = 1e-14, maxit = 200)))
  x <- rep(s$a, s$b)
  g2 <- suppressWarnings(glm.nb(x ~ 1, control = glm.control(epsilon = 1e-14, maxit = 200)))
  say("nb", nm, num(g2$theta), num(g2$SE.theta), num(as.numeric(logLik(g2))))
}
for (nm in unique(d$name[d$kind == "bb"])) {
  s <- d[d$kind == "bb" & d$name == nm, ]
  f <- try(vglm(cbind(a, b - a) ~ 1, betabinomial, data = s, epsilon = 1e-12, maxit = 200), silent = TRUE)
  if (!inherits(f, "try-error")) { c <- Coef(f); say("bb", nm, num(c[1]), num(c[2]), num(logLik(f))) }
}
for (nm in unique(d$name[d$kind == "mv"])) {
  s <- d[d$kind == "mv" & d$name == nm, ]
  for (base in c("e", "10")) {
    lg <- if (base == "e") log else log10
    m <- lm(lg(s$b) ~ lg(s$a)); k <- summary(m)
    say("taylor", nm, base, num(c(coef(m), k$coefficients[, 2], k$r.squared, k$sigma)))
  }
  star <- s$a + s$b / s$a - 1
  m <- lm(star ~ s$a); k <- summary(m)
  say("iwao", nm, num(c(coef(m), k$coefficients[, 2], k$r.squared, k$sigma)))
}
