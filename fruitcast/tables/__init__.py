"""One reader of what people's files hold: text, sheets, single values, faults."""
