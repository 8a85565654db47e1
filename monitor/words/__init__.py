"""Every sentence that a person reads, in each language."""
