# Base R beside the mpmath values: lines "kind a b c x pmf upper" on standard input.
d <- read.table(file("stdin"), colClasses = c("character", rep("numeric", 6)))
names(d) <- c("kind", "a", "b", "c", "x", "pmf", "upper")
rel <- function(got, want) ifelse(want < 1e-280, 0, abs(got / want - 1))
for (k in unique(d$kind)) {
  s <- d[d$kind == k, ]
  p <- switch(k, binom = dbinom(s$x, s$a, s$b), nbinom = dnbinom(s$x, size = s$a, mu = s$b), pois = dpois(s$x, s$a))
  u <- switch(k, binom = pbinom(s$x - 1, s$a, s$b, lower.tail = FALSE),
              nbinom = pnbinom(s$x - 1, size = s$a, mu = s$b, lower.tail = FALSE),
              pois = ppois(s$x - 1, s$a, lower.tail = FALSE))
  rp <- rel(p, s$pmf); ru <- rel(u, s$upper)
  cat("R", k, "largest relative difference: pmf", signif(max(rp), 3), "upper", signif(max(ru), 3), "\n")
  bad <- which(rp > 1e-6 | ru > 1e-6)
  if (length(bad)) print(cbind(s[bad, ], rp = rp[bad], ru = ru[bad]), digits = 12)
}
