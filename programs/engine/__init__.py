"""The engine: values in, decisions out. No Django, no clock, no randomness, no input or output."""
