"""A shop and a stock made into one quote."""
