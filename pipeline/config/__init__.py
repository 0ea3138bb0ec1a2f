"""Config: one module a file in a plant's ``config/``; `load` gathers every fault of all of them."""
