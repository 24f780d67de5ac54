"""Every struct of the wire, shared by the SDK and the service."""
