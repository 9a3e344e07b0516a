"""How texts come in and go out: one module a carrier, each behind the same two plain shapes, Incoming and Waiting."""
