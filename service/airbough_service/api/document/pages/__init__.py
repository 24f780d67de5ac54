"""The pages under `/docs`: the whole document as plain HTML, readable without scripts and without a network."""
