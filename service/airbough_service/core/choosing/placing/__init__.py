"""Where ducts run: the cheapest tree along the lines of a lattice, by dynamic programming over sets of machines.

Dreyfus and Wagner, The Steiner problem in graphs, Networks 1 (1971), 195-207, with prices that depend on what is sent,
as Erickson, Monma and Veinott, Math. Oper. Res. 12 (1987), 634-664 (both from memory).
"""
