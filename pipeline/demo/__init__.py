"""Demo: the invented plant of Harrow Fork, made anew from a seed, with a record of what is true.

`plant.make_plant` writes a plant folder: config, exports, laboratory, logbook, and apart from them the
truth about every instrument fault, every limit exceeded and every ordinary operation.
"""
