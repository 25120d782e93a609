"""Pages handed out: documents made from plain values."""
