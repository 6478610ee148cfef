"""The physics of a supply, an element, a sensor, a joint and a meter."""
