"""Settings: what is legal (`schema`), how the file is read (`loading`), species data (`species`)."""
