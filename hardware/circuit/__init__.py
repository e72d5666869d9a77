"""The circuit as data, once: everything else in this folder is made from it.

`reference.py` and `starter.py` say which parts a board has and what they are joined to; `pins.py`
says which pin of the Pico or of the Raspberry Pi serves which signal; `catalogue.toml` says what
each part is, what it stands, and where that figure comes from. From these, `hardware/build.py`
makes the netlist, the rule check, the bill of materials, the drawings and the pin tables of
`hardware/boards/*.toml`, and `hardware/prove.py` makes the ngspice circuits that it runs.
"""
