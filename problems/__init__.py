"""Problem files that ship with the program, and the catalogues of materials, cores, envelopes and joints."""
