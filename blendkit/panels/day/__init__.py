"""The day: forecast, targets, nose log, and the lessons that explain them."""
