"""Reading what a caller wrote, the same way in the service and in its client: units, texts, faults."""
