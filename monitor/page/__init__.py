"""The page for a phone: server-rendered, works without scripts, live with them."""
