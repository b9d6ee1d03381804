"""Who may come in, and how."""
