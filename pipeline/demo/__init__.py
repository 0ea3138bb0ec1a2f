"""Demo: the invented plant of Harrow Fork, made anew from a seed, with a record of what is true.

`plant.make_plant` writes a plant folder: config, exports, laboratory, logbook, and apart from them the
truth about every instrument fault, every limit exceeded and every ordinary operation.

Read it in the order of the water. `script` is the history, by hand: what breaks, what the water does, what
people do. `calendar`, `weather`, `noise` and `rhythm` are the stage. `water`, `filters`, `chlorine`,
`distribution`, `lift`, `reactors` and `effluent` are the plant; `truewater` runs it. `service`, `readings`
and `faults` turn true water into what the instruments show; `exports`, `laboratory`, `logbook` and `truth`
write it down.
"""
