"""The gaps of a measurement: where they lie, what the photo says of their cause, and what people say of it."""
