# Least squares of ln mean on ln(-ln(1-p)): lines "mean p"; and base R negative binomial tails: lines "nb T mean k".
L <- strsplit(readLines(file("stdin")), " ")
fit <- Filter(function(v) v[1] == "fit", L); nb <- Filter(function(v) v[1] == "nb", L)
for (v in nb) { v <- as.numeric(v[-1]); cat("nb", sprintf("%.17g", pnbinom(v[1] - 1, size = v[3], mu = v[2], lower.tail = FALSE)), "\n") }
d <- data.frame(y = log(sapply(fit, function(v) as.numeric(v[2]))), x = log(-log1p(-sapply(fit, function(v) as.numeric(v[3])))))
m <- lm(y ~ x, d); s <- summary(m)
cat("fit", sprintf("%.15g", c(coef(m), s$coefficients[, 2], s$sigma^2, s$r.squared, mean(d$x))), "\n")
p <- c(.02, .1, .25, .5, .8)
e <- predict(m, data.frame(x = log(-log1p(-p))), se.fit = TRUE)
for (i in seq_along(p)) cat("pred", sprintf("%.15g", c(p[i], e$fit[i], e$se.fit[i])), "\n")
