"""Water and heat in a rearing bin: balances, posterior, hours until dry, litres to add."""
