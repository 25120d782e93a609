"""What is told of the voids that count: fraction, interval, arrangement, kinds, warnings."""
