"""Cards, credentials, certificates and the broker's files: what board and broker need to trust each other."""
