# Base R intervals and quantiles. Input lines: "ci x n conf" or "t p df" or "z p"; output: the numbers, 17 digits.
con <- file("stdin"); L <- strsplit(readLines(con), " ")
f <- function(...) cat(sprintf("%.17g", c(...)), "\n")
for (l in L) {
  v <- as.numeric(l[-1])
  if (l[1] == "ci") {
    b <- binom.test(v[1], v[2], conf.level = v[3])$conf.int
    w <- suppressWarnings(prop.test(v[1], v[2], conf.level = v[3], correct = FALSE)$conf.int)
    c <- suppressWarnings(prop.test(v[1], v[2], conf.level = v[3], correct = TRUE)$conf.int)
    f(b, w, c)
  } else if (l[1] == "t") f(qt(v[1], v[2])) else f(qnorm(v[1]))
}
