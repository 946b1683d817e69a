"""Who may come in, and to what: gate, permissions, signed tokens, throttle."""
