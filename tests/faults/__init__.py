"""Scripts that do harm on purpose and print counts; the suite runs each in short."""
