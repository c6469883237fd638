# Times one fit: Rscript time-mixed-model.R DATA.csv lme4 FORMULA | DATA.csv nlme FIXED RANDOM
# Fits of up to 10,000 readings are timed five times and the middle time is given.
# Prints seconds, peak memory in MB and the REML criterion as JSON.
arguments <- commandArgs(trailingOnly = TRUE)
data <- read.csv(arguments[1])
for (column in setdiff(names(data), c("x", "y", "cell"))) data[[column]] <- factor(data[[column]])
repeats <- if (nrow(data) <= 10010) 5 else 1
middle <- function(expression) median(replicate(repeats, system.time(eval(expression, globalenv()))[["elapsed"]]))
if (arguments[2] == "lme4") {
  suppressMessages(library(lme4))
  formula <- as.formula(arguments[3])
  time <- middle(quote(fit <- lmer(formula, data)))
  criterion <- REMLcrit(fit)
} else {
  suppressMessages(library(nlme))
  fixed <- as.formula(arguments[3])
  random <- as.formula(arguments[4])
  time <- middle(quote(fit <- do.call(lme, list(fixed, data = quote(data), random = random))))
  criterion <- -2 * as.numeric(logLik(fit))
}
peak <- as.numeric(sub("[^0-9]*([0-9]+).*", "\\1", grep("^VmHWM", readLines("/proc/self/status"), value = TRUE))) / 1024
cat(sprintf('{"seconds":%.4f,"peakMb":%.1f,"criterion":%.6f}\n', time, peak, criterion))
