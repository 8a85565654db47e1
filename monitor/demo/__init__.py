"""The invented farm, Saltbush Yard: a physical simulation that publishes real MQTT messages."""
