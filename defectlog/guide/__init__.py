"""What the trade knows of each kind of defect, and the ranking of its causes."""
