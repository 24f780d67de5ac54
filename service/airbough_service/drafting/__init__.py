"""What a caller may leave out of a document and is filled in before a shop is built of it."""
