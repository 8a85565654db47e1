"""SQLite store: schema, readings, alarm journal, outbox, logbook, archive cursor."""
