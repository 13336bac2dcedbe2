# Package data as lines "name a b": count and frequency, or found and examined.
suppressMessages({library(VGAM); library(lme4); library(MASS)})
out <- function(name, a, b) cat(paste(name, a, b), sep = "\n")
out("machinists", machinists$accidents, machinists$ofreq)
out("lirat", lirat$R, lirat$N)
out("cbpp", cbpp$incidence, cbpp$size)
t <- table(grouseticks$TICKS); out("grouseticks", names(t), as.vector(t))
t <- table(quine$Days); out("quine", names(t), as.vector(t))
for (s in levels(InsectSprays$spray)) { x <- InsectSprays$count[InsectSprays$spray == s]; out(paste0("InsectSprays_", s), seq_along(x), x) }
cat("version", as.character(packageVersion("VGAM")), as.character(packageVersion("lme4")), as.character(packageVersion("MASS")), "\n")
