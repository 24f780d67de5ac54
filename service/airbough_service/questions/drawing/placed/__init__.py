"""Pictures to scale of runs whose places are known: from above, and from the side."""
