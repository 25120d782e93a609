"""What the workshop keeps: tables, sessions and migrations."""
