"""Pictures as arrays: light, pixels as lists, and the sums that everything else is told by."""
