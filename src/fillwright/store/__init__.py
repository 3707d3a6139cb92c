"""Students, lessons, takes and progress, kept in SQLite or PostgreSQL."""
